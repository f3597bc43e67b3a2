// Something that is asked of the bench and shown when it comes.
import { useEffect, useState } from "preact/hooks";
import { call } from "./link";

export interface Asked<T> { data: T | null; error: string | null }

/** The answer to a GET, asked anew when `again` changes, and on and on while it says that something is left. null: nothing is asked. */
export function useAsked<T extends object>(path: string | null, again?: unknown): Asked<T> {
  const [state, set] = useState<Asked<T>>({ data: null, error: null });
  useEffect(() => {
    if (path === null) return;
    let gone = false;
    const ask = () => void call<T>("GET", path).then(
      (data) => { if (!gone) { set({ data, error: null }); if ((data as { left?: number }).left) ask(); } },
      (bad: Error) => { if (!gone) set({ data: null, error: bad.message }); });
    ask();
    return () => { gone = true; };
  }, [path, again]);
  return state;
}
