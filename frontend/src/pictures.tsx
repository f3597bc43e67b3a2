import { Panel } from "./panels";
export function Pictures() { return <Panel title="Pictures" wide><p>none yet</p></Panel>; }
