/** Parts are the elements of an answer by their identifier. */
export type Parts = Map<string, HTMLElement>;

/** partOf fetches a part of a page of this server, whose texts are escaped there. */
export async function partOf(address: string): Promise<Parts> {
  const answer = await fetch(address, { headers: { Accept: "text/html" } });
  const parsed = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!answer.ok) throw new Error(String(answer.status));
  const parts: Parts = new Map();
  for (const one of parsed.body.querySelectorAll<HTMLElement>("[id]")) parts.set(one.id, one);
  return parts;
}
