import { Panel } from "./panels";
export function Sheet() { return <Panel title="Sheet" wide><p>none yet</p></Panel>; }
