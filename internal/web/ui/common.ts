// What every page has: the search that answers while somebody types, keys of a
// single letter, and words for screen readers.

import { tell } from "./lib/tell";

const body = document.body;

function liveSearch(): void {
  const input = document.querySelector<HTMLInputElement>("#search");
  const found = document.querySelector<HTMLElement>("#found");
  if (!input || !found) return;
  let asked = 0;
  let timer = 0;
  const hide = () => { found.hidden = true; found.replaceChildren(); };
  const ask = async () => {
    const mine = ++asked;
    if (!input.value.trim()) { hide(); return; }
    try {
      const answer = await fetch("/eyes/found?q=" + encodeURIComponent(input.value), { headers: { Accept: "text/html" } });
      // A list that somebody already walks through is not replaced below the focus.
      if (!answer.ok || mine !== asked || found.contains(document.activeElement)) return;
      // The answer is a page of this server, whose texts are escaped there.
      const parsed = new DOMParser().parseFromString(await answer.text(), "text/html");
      found.replaceChildren(...Array.from(parsed.body.childNodes));
      found.hidden = false;
      const n = found.querySelectorAll("a").length;
      tell(n ? `${n} found` : found.textContent ?? "");
    } catch { /* the form still works without */ }
  };
  input.addEventListener("input", () => { window.clearTimeout(timer); timer = window.setTimeout(ask, 80); });
  input.form?.addEventListener("keydown", (e) => {
    const links = Array.from(found.querySelectorAll<HTMLAnchorElement>("a"));
    const at = links.indexOf(document.activeElement as HTMLAnchorElement);
    if (e.key === "Escape") { hide(); input.focus(); return; }
    if (e.key === "ArrowDown" && links.length) { e.preventDefault(); links[Math.min(at + 1, links.length - 1)]?.focus(); }
    if (e.key === "ArrowUp" && links.length) { e.preventDefault(); if (at <= 0) input.focus(); else links[at - 1]?.focus(); }
  });
  document.addEventListener("focusin", (e) => { if (!input.form?.contains(e.target as Node)) hide(); });
}

/** typing reports that keys go into a field and are no commands. */
function typing(target: EventTarget | null): boolean {
  return target instanceof HTMLElement && (target.isContentEditable || /^(INPUT|SELECT|TEXTAREA)$/.test(target.tagName));
}

function singleKeys(): void {
  if (body.dataset.keys !== "on") return;
  const places: Record<string, string> = { t: "/", e: "/eyes", b: "/bench", r: "/registers", "?": "/keys" };
  document.addEventListener("keydown", (e) => {
    if (e.defaultPrevented || e.ctrlKey || e.metaKey || e.altKey || typing(e.target)) return;
    if (e.key === "/") {
      const search = document.getElementById("search");
      if (search) { e.preventDefault(); search.focus(); }
      return;
    }
    const station = document.querySelectorAll<HTMLAnchorElement>(".stations a")[Number(e.key) - 1];
    if (station) { location.assign(station.href); return; }
    const to = places[e.key];
    // Only where the rail leads, so that a key never opens what the visitor may not see.
    if (to && (to === "/keys" || document.querySelector(`.rail a[href="${to}"]`))) location.assign(to);
  });
}

liveSearch();
singleKeys();
