// One scan: going through its slices, calipers, lines that are moved and the
// scale bar. What is drawn and what is reckoned comes from the server; this
// module only says where the hand was.

import { tell } from "./lib/tell";
import { partOf, type Parts } from "./lib/part";

type Mode = "look" | "caliper" | "membrane" | "epithelium" | "bar";
interface Point { x: number; y: number }
interface Caliper { a: Point; b: Point }
interface Move { line: string; slice: number; column: number; rows: number; reach: number }

const svgNS = "http://www.w3.org/2000/svg";
const bench = document.querySelector<HTMLElement>(".scanbench[data-scan]");
if (bench) run(bench);

function run(bench: HTMLElement): void {
  document.body.dataset.scripted = "";
  const at = bench.dataset.scan ?? "";
  const tools = bench.querySelector<HTMLElement>("[data-tools]");
  if (tools) tools.hidden = false;
  const out = bench.querySelector<HTMLElement>("[data-reading-out]");
  const words = bench.querySelector<HTMLElement>("[data-mode-words]");
  const reachBox = bench.querySelector<HTMLElement>("[data-reach]");
  const reachField = bench.querySelector<HTMLInputElement>("[data-reach-columns]");
  const undo = bench.querySelector<HTMLButtonElement>("[data-undo]");
  const clear = bench.querySelector<HTMLButtonElement>("[data-clear]");
  const calipers = new Map<number, Caliper[]>();
  let bar: Caliper | null = null;
  let mode: Mode = "look";
  let moves: Move[] = parse(bench.querySelector<HTMLElement>("#scanfigures")?.dataset.done ?? "");
  let handle = -1; // column of the place that moves
  let asked = 0;

  // ---- what stands on the page now -------------------------------------------
  const block = () => bench.querySelector<HTMLElement>("#sliceblock");
  const figure = () => bench.querySelector<HTMLElement>("figure.scanslice");
  const stage = () => bench.querySelector<HTMLElement>(".scanstage");
  const svg = () => bench.querySelector<SVGSVGElement>(".scanstage svg");
  const hand = () => bench.querySelector<SVGGElement>(".scanstage .hand");
  const slice = () => Number(block()?.dataset.slice ?? 0);
  const slices = () => Number(figure()?.dataset.slices ?? 0);
  const unit = (): Point => ({ x: Number(figure()?.dataset.unitX ?? 1), y: Number(figure()?.dataset.unitY ?? 1) });
  const columns = () => Number(figure()?.dataset.columns ?? 0);

  // ---- going through slices --------------------------------------------------
  async function show(n: number, whole: boolean): Promise<void> {
    if (n < 1 || (slices() && n > slices())) return;
    const mine = ++asked;
    const query = new URLSearchParams({ slice: String(n), part: whole ? "live" : "slice" });
    if (moves.length) query.set("moves", text(moves));
    if (bench.dataset.base) query.set("figures", bench.dataset.base);
    if (whole) bench.querySelector(".scantold")?.classList.add("stale");
    let parts: Parts;
    try { parts = await partOf(`${at}?${query}`); } catch { tell("Not shown: the server did not answer."); return; }
    if (mine !== asked) return;
    const hadFocus = stage()?.contains(document.activeElement) ?? false;
    const fresh = parts.get("sliceblock");
    if (fresh) block()?.replaceWith(fresh);
    if (whole) {
      const figures = parts.get("scanfigures");
      if (figures) bench.querySelector("#scanfigures")?.replaceWith(figures);
      const job = parts.get("scanjob");
      if (job) document.querySelector("#scanjob")?.replaceWith(job);
      bench.querySelector(".scantold")?.classList.remove("stale");
      const kept = bench.querySelector<HTMLElement>("#scanfigures")?.dataset.done ?? "";
      if (moves.length && kept !== text(moves)) { moves = parse(kept); }
    }
    wire();
    if (hadFocus) stage()?.focus({ preventScroll: true });
    const shown = new URLSearchParams({ slice: String(n) });
    if (moves.length) shown.set("moves", text(moves));
    if (bench.dataset.base) shown.set("figures", bench.dataset.base);
    history.replaceState(null, "", `${at}?${shown}`);
    if (!whole) tell(figure()?.querySelector("#slicewords")?.textContent ?? "");
  }

  // ---- drawing what the hand made --------------------------------------------
  function line(g: SVGGElement, c: Caliper, colour: string): void {
    for (const [cls, stroke] of [["edge", "#ffffff"], ["stroke", colour]] as const) {
      const l = document.createElementNS(svgNS, "line");
      l.setAttribute("class", cls); l.setAttribute("stroke", stroke);
      l.setAttribute("x1", String(c.a.x)); l.setAttribute("y1", String(c.a.y));
      l.setAttribute("x2", String(c.b.x)); l.setAttribute("y2", String(c.b.y));
      g.append(l);
    }
  }
  function grip(g: SVGGElement, c: Caliper, end: "a" | "b", label: string, changed: () => void, remove: () => void): void {
    const view = svg()?.viewBox.baseVal;
    const radius = (view ? view.width : 1000) * 0.012;
    const make = (cls: string) => {
      const one = document.createElementNS(svgNS, "circle");
      one.setAttribute("class", cls); one.setAttribute("r", String(radius));
      one.setAttribute("cx", String(c[end].x)); one.setAttribute("cy", String(c[end].y));
      one.setAttribute("stroke", "#ffffff");
      return one;
    };
    const target = make("grip");
    target.setAttribute("tabindex", "0"); target.setAttribute("role", "slider");
    target.setAttribute("aria-label", label); target.setAttribute("aria-valuetext", reading(c));
    target.setAttribute("aria-valuenow", String(Math.round(length(c))));
    target.addEventListener("keydown", (e) => {
      const step = e.shiftKey ? 10 : 1;
      const by = arrows[e.key];
      if (e.key === "Delete" || e.key === "Backspace") { e.preventDefault(); remove(); return; }
      if (!by) return;
      e.preventDefault(); e.stopPropagation();
      c[end] = inside({ x: c[end].x + by.x * step * unit().x, y: c[end].y + by.y * step * unit().y });
      changed();
      bench.querySelectorAll<SVGElement>(`.grip[aria-label="${label}"]`)[0]?.focus();
    });
    drag(target, (p) => { c[end] = inside(p); changed(); });
    g.append(target, make("ring"));
  }
  function redraw(): void {
    const g = hand();
    if (!g) return;
    g.replaceChildren();
    const own = calipers.get(slice()) ?? [];
    own.forEach((c, i) => {
      line(g, c, "#cc79a7");
      const remove = () => { own.splice(i, 1); redraw(); say(own.at(-1)); stage()?.focus(); };
      grip(g, c, "a", `Caliper ${i + 1}, first end`, () => { redraw(); say(c); }, remove);
      grip(g, c, "b", `Caliper ${i + 1}, second end`, () => { redraw(); say(c); }, remove);
    });
    if (bar && mode === "bar") {
      const b = bar;
      line(g, b, "#009e73");
      const changed = () => { redraw(); sayBar(b); };
      grip(g, b, "a", "Scale bar, first end", changed, () => { bar = null; redraw(); });
      grip(g, b, "b", "Scale bar, second end", changed, () => { bar = null; redraw(); });
    }
    if ((mode === "membrane" || mode === "epithelium") && handle >= 0) {
      const y = rowAt(mode, handle);
      if (y !== null) {
        const x = (handle + 0.5) * unit().x;
        const reach = reachOf() * unit().x;
        line(g, { a: { x: x - reach, y }, b: { x: x + reach, y } }, "#009e73");
        line(g, { a: { x, y: y - 12 * unit().y }, b: { x, y: y + 12 * unit().y } }, "#009e73");
      }
    }
    if (clear) clear.hidden = own.length === 0;
    if (undo) undo.hidden = moves.length === 0;
  }

  // ---- lengths ----------------------------------------------------------------
  const inside = (p: Point): Point => {
    const view = svg()?.viewBox.baseVal;
    return view ? { x: Math.min(Math.max(p.x, 0), view.width), y: Math.min(Math.max(p.y, 0), view.height) } : p;
  };
  const length = (c: Caliper) => Math.hypot(c.b.x - c.a.x, c.b.y - c.a.y);
  function reading(c: Caliper): string {
    const f = figure();
    if (f?.dataset.um !== "true") {
      const dx = Math.abs(c.b.x - c.a.x), dy = Math.abs(c.b.y - c.a.y);
      return `${dx.toFixed(1)} columns by ${dy.toFixed(1)} rows; scale ${f?.dataset.trust ?? "unknown"}`;
    }
    // A hand sets each end to about one sample: half a sample either side.
    const u = unit(), l = length(c) || 1;
    const error = Math.hypot((c.b.x - c.a.x) / l * u.x, (c.b.y - c.a.y) / l * u.y);
    return `${length(c).toFixed(0)} µm ± ${Math.max(1, error).toFixed(0)} µm (one sample); scale ${f.dataset.trust}; as displayed`;
  }
  function say(c: Caliper | undefined): void { if (out) out.textContent = c ? reading(c) : ""; }

  // ---- the scale bar ------------------------------------------------------------
  function sayBar(b: Caliper): void {
    const u = unit();
    const across = Math.abs(b.b.x - b.a.x) / u.x, down = Math.abs(b.b.y - b.a.y) / u.y;
    const axis = across >= down ? "lateral" : "depth";
    const samples = Math.max(across, down);
    const form = document.querySelector<HTMLFormElement>("#scale form");
    const field = form?.querySelector<HTMLInputElement>(`[name="${axis}-bar-samples"]`);
    if (field) field.value = samples.toFixed(1);
    const details = form?.closest("details");
    if (details) details.open = true;
    if (out) out.textContent = `The bar is ${samples.toFixed(1)} samples ${axis === "lateral" ? "along the slice" : "in depth"}. Type its length below.`;
  }
  function barDone(b: Caliper): void {
    const across = Math.abs(b.b.x - b.a.x) / unit().x, down = Math.abs(b.b.y - b.a.y) / unit().y;
    document.querySelector<HTMLInputElement>(`#scale [name="${across >= down ? "lateral" : "depth"}-bar-um"]`)?.focus();
  }

  // ---- moving lines -------------------------------------------------------------
  const reachOf = () => Math.max(1, Math.round(Number(reachField?.value) || 20));
  function rowAt(name: string, column: number): number | null {
    const x = (column + 0.5) * unit().x;
    for (const run of bench.querySelectorAll<SVGPolylineElement>(`[data-line="${name}"] polyline`)) {
      const points = run.points;
      for (let i = 0; i < points.length; i++) {
        const p = points.getItem(i);
        if (Math.abs(p.x - x) < unit().x * 0.75) return p.y;
      }
    }
    return null;
  }
  /** nearest is the traced column nearest to one, where a hand can begin. */
  function nearest(name: string, column: number): number {
    let best = -1;
    for (const run of bench.querySelectorAll<SVGPolylineElement>(`[data-line="${name}"] polyline`)) {
      for (let i = 0; i < run.points.length; i++) {
        const c = Math.round(run.points.getItem(i).x / unit().x - 0.5);
        if (best < 0 || Math.abs(c - column) < Math.abs(best - column)) best = c;
      }
    }
    return best;
  }
  let shown: { name: string; before: [SVGPolylineElement, Point[]][] } | null = null;
  /** preview bends the drawn line as the server will. */
  function preview(name: string, column: number, rows: number): void {
    if (!shown) {
      shown = { name, before: Array.from(bench.querySelectorAll<SVGPolylineElement>(`[data-line="${name}"] polyline`), (run) => [run, Array.from({ length: run.points.length }, (_, i) => { const p = run.points.getItem(i); return { x: p.x, y: p.y }; })]) };
    }
    const u = unit(), reach = reachOf();
    for (const [run, points] of shown.before) {
      run.setAttribute("points", points.map((p) => {
        const d = Math.abs(p.x / u.x - 0.5 - column) / reach;
        return `${p.x},${d < 1 ? p.y + rows * u.y * 0.5 * (1 + Math.cos(Math.PI * d)) : p.y}`;
      }).join(" "));
    }
  }
  let waiting = 0;
  function add(m: Move): void {
    const last = moves.at(-1);
    // Many small steps at one place are one move.
    if (last && last.line === m.line && last.slice === m.slice && last.column === m.column && last.reach === m.reach) {
      last.rows = Math.round((last.rows + m.rows) * 100) / 100;
      if (last.rows === 0) moves.pop();
    } else moves.push(m);
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => void show(slice(), true).then(sayMoved), 250);
  }
  function sayMoved(): void {
    const strong = bench.querySelector(".scanfigs .strong");
    const refused = bench.querySelector("#scanfigures .signal.stop");
    const said = refused?.textContent?.trim() ?? (strong ? `${strong.querySelector("th")?.firstChild?.textContent}: ${strong.querySelector(".figure")?.textContent}` : "");
    if (out) out.textContent = said;
    tell(said);
  }

  // ---- pointer --------------------------------------------------------------------
  function place(e: PointerEvent): Point {
    const s = svg(), m = s?.getScreenCTM();
    if (!s || !m) return { x: 0, y: 0 };
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(m.inverse());
    return { x: p.x, y: p.y };
  }
  function drag(target: Element, moved: (p: Point) => void, ended?: () => void): void {
    target.addEventListener("pointerdown", (e) => {
      const down = e as PointerEvent;
      if (down.button !== 0) return;
      down.preventDefault(); down.stopPropagation();
      const go = (e: PointerEvent) => moved(place(e));
      const stop = () => { window.removeEventListener("pointermove", go); window.removeEventListener("pointerup", stop); window.removeEventListener("pointercancel", stop); ended?.(); };
      window.addEventListener("pointermove", go); window.addEventListener("pointerup", stop); window.addEventListener("pointercancel", stop);
    });
  }
  function pressed(e: PointerEvent): void {
    if (mode === "look" || e.button !== 0 || (e.target as Element).classList.contains("grip")) return;
    e.preventDefault();
    stage()?.focus({ preventScroll: true });
    const from = inside(place(e));
    let go: (p: Point) => void = () => undefined;
    let done = () => { };
    if (mode === "caliper" || mode === "bar") {
      const c: Caliper = { a: from, b: from };
      if (mode === "bar") bar = c; else calipers.set(slice(), [...(calipers.get(slice()) ?? []), c]);
      go = (p) => { c.b = inside(p); redraw(); if (mode === "bar") sayBar(c); else say(c); };
      done = () => {
        if (length(c) < unit().x) { // a click is no caliper
          if (mode === "bar") bar = null; else calipers.get(slice())?.pop();
          redraw();
        } else if (mode === "bar") barDone(c); else tell(reading(c));
      };
    } else {
      const name = mode;
      handle = Math.min(Math.max(Math.floor(from.x / unit().x), 0), columns() - 1);
      let rows = 0;
      redraw();
      go = (p) => {
        rows = Math.round((p.y - from.y) / unit().y * 10) / 10;
        preview(name, handle, rows);
        if (out) out.textContent = `${Math.abs(rows)} samples ${rows < 0 ? "up" : "down"} at column ${handle + 1}`;
      };
      done = () => { shown = null; if (rows) add({ line: name, slice: slice() - 1, column: handle, rows, reach: reachOf() }); };
    }
    const follow = (e: PointerEvent) => go(place(e));
    const stop = () => { window.removeEventListener("pointermove", follow); window.removeEventListener("pointerup", stop); window.removeEventListener("pointercancel", stop); done(); };
    window.addEventListener("pointermove", follow); window.addEventListener("pointerup", stop); window.addEventListener("pointercancel", stop);
  }

  // ---- keys -----------------------------------------------------------------------
  function key(e: KeyboardEvent): void {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target !== stage()) return;
    const by = arrows[e.key];
    if (e.key === "PageDown" || e.key === "PageUp") { e.preventDefault(); void show(slice() + (e.key === "PageDown" ? 1 : -1), false); return; }
    if (e.key === "Escape") { choose("look"); return; }
    if (mode === "look") {
      if (!by) return;
      e.preventDefault();
      void show(slice() + by.x + by.y, false);
      return;
    }
    if ((mode === "caliper" || mode === "bar") && (e.key === "Enter" || e.key === " ")) {
      e.preventDefault();
      const view = svg()?.viewBox.baseVal;
      if (!view) return;
      const c = { a: { x: view.width * 0.4, y: view.height / 2 }, b: { x: view.width * 0.6, y: view.height / 2 } };
      if (mode === "bar") { bar = c; sayBar(c); } else { calipers.set(slice(), [...(calipers.get(slice()) ?? []), c]); say(c); }
      redraw();
      const grips = hand()?.querySelectorAll<SVGElement>(".grip");
      grips?.[grips.length - 2]?.focus();
      return;
    }
    if (mode === "membrane" || mode === "epithelium") {
      if ((e.key === "z" || e.key === "Backspace") && moves.length) { e.preventDefault(); back(); return; }
      if (!by) return;
      e.preventDefault();
      if (handle < 0) handle = nearest(mode, Math.floor(columns() / 2));
      if (by.y && rowAt(mode, handle) === null) { tell("The line is not traced here."); return; }
      if (by.x) {
        handle = Math.min(Math.max(handle + by.x * (e.shiftKey ? 10 : 1), 0), columns() - 1);
        redraw();
        tell(`Column ${handle + 1}${rowAt(mode, handle) === null ? ", the line is not traced here" : ""}`);
      } else {
        const rows = by.y * (e.shiftKey ? 5 : 1);
        preview(mode, handle, rows); shown = null;
        add({ line: mode, slice: slice() - 1, column: handle, rows, reach: reachOf() });
      }
    }
  }
  function back(): void { moves.pop(); void show(slice(), true).then(sayMoved); }

  // ---- modes ----------------------------------------------------------------------
  const modeWords: Record<Mode, string> = {
    look: "Arrows go from slice to slice.",
    caliper: "Drag from wall to wall, or press Enter on the picture and move the ends by arrows (Shift: ten samples, Delete: remove).",
    membrane: "Drag the line, or choose the column with ← and → and move it with ↑ and ↓. Figures follow at once; nothing is kept before you say so.",
    epithelium: "Drag the line, or choose the column with ← and → and move it with ↑ and ↓. Figures follow at once; nothing is kept before you say so.",
    bar: "Drag along a bar of known length in the picture, then type its micrometres.",
  };
  function choose(to: Mode): void {
    mode = to;
    const radio = bench.querySelector<HTMLInputElement>(`input[name=mode][value=${to}]`);
    if (radio) radio.checked = true;
    if (words) words.textContent = modeWords[to];
    if (out) out.textContent = "";
    if (reachBox) reachBox.hidden = to !== "membrane" && to !== "epithelium";
    if (stage()) stage()!.dataset.mode = to;
    if (to === "membrane" || to === "epithelium") handle = nearest(to, handle < 0 ? Math.floor(columns() / 2) : handle);
    redraw();
  }
  function ahead(): void {
    for (const address of [figure()?.dataset.behind, figure()?.dataset.before]) if (address) { new Image().src = address; }
  }
  function wire(): void {
    if (stage()) stage()!.dataset.mode = mode;
    const range = bench.querySelector<HTMLInputElement>("#slice");
    range?.addEventListener("input", () => void show(Number(range.value), false));
    range?.form?.querySelector("button")?.setAttribute("hidden", "");
    svg()?.addEventListener("pointerdown", pressed);
    for (const a of bench.querySelectorAll<SVGAElement | HTMLAnchorElement>(".frontview a, .scansteps a")) {
      a.addEventListener("click", (e) => {
        const m = (e as MouseEvent);
        if (m.ctrlKey || m.metaKey || m.shiftKey) return;
        const n = Number((a as Element as HTMLElement).dataset.to ?? new URL((a as HTMLAnchorElement).href, location.href).searchParams.get("slice"));
        if (n) { e.preventDefault(); void show(n, false); }
      });
    }
    redraw();
    if (block()?.querySelector("[data-reading]")) window.setTimeout(() => void show(slice() || 1, true), 400);
    else window.setTimeout(ahead, 150);
  }
  // Measuring goes on elsewhere; the page follows it until it has ended.
  function follow(): void {
    const job = document.querySelector<HTMLElement>("#scanjob");
    if (!job || job.dataset.active === undefined) return;
    window.setTimeout(() => void show(slice() || 1, true).then(() => {
      const now = document.querySelector<HTMLElement>("#scanjob");
      if (now?.dataset.active === undefined) { tell("Measuring has ended."); if (!bench.querySelector(".scanfigs")) location.reload(); }
      follow();
    }), 700);
  }

  bench.addEventListener("keydown", key);
  reachField?.addEventListener("input", redraw);
  undo?.addEventListener("click", back);
  clear?.addEventListener("click", () => { calipers.delete(slice()); say(undefined); redraw(); stage()?.focus(); });
  for (const radio of bench.querySelectorAll<HTMLInputElement>("input[name=mode]")) {
    radio.addEventListener("change", () => choose(radio.value as Mode));
  }
  choose(document.querySelector("#scale[data-missing]") && bench.querySelector("input[name=mode][value=bar]") ? "bar" : "look");
  wire();
  follow();
}

const arrows: Record<string, Point> = { ArrowLeft: { x: -1, y: 0 }, ArrowRight: { x: 1, y: 0 }, ArrowUp: { x: 0, y: -1 }, ArrowDown: { x: 0, y: 1 } };

function text(moves: Move[]): string { return moves.map((m) => `${m.line},${m.slice},${m.column},${m.rows},${m.reach}`).join("~"); }

function parse(done: string): Move[] {
  return done ? done.split("~").map((one) => {
    const [line = "", slice, column, rows, reach] = one.split(",");
    return { line, slice: Number(slice), column: Number(column), rows: Number(rows), reach: Number(reach) };
  }) : [];
}
