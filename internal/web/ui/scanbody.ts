// The body of the lumen, turned by dragging or by arrows. The server draws it
// from eight directions; this draws the same rings from any.

interface Body { rings: [number, number, number][][]; section: [number, number, number][] | null }

const box = document.querySelector<HTMLElement>("[data-body]");
if (box?.dataset.body) run(box, JSON.parse(box.dataset.body) as Body);

function run(box: HTMLElement, body: Body): void {
  const drawn = box.querySelector<HTMLElement>("[data-drawn]")!;
  const how = box.querySelector<HTMLElement>("[data-how]")!;
  const canvas = document.createElement("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  const name = drawn.querySelector("svg")?.getAttribute("aria-label") ?? drawn.querySelector("svg desc")?.textContent ?? "The hole as a body";
  let turn = Number(new URLSearchParams(location.search).get("turn") ?? 30), lift = 20;
  const all = body.rings.flat();
  const mx = all.reduce((s, p) => s + p[0], 0) / all.length, my = all.reduce((s, p) => s + p[1], 0) / all.length;
  const top = Math.max(...all.map((p) => p[2]));
  const radius = Math.max(...all.map((p) => Math.hypot(p[0] - mx, p[1] - my)));
  const style = getComputedStyle(document.documentElement);
  const role = (r: string) => style.getPropertyValue(r).trim();

  // In a dark theatre the body must not shine.
  const dim = document.documentElement.dataset.theme === "dim" || !document.documentElement.dataset.theme && matchMedia("(prefers-color-scheme: dark)").matches;
  const lamp = dim ? 0.6 : 1;

  function draw(): void {
    const wide = box.clientWidth, high = Math.min(wide * 0.66, window.innerHeight * 0.7), dense = window.devicePixelRatio || 1;
    canvas.width = wide * dense; canvas.height = high * dense;
    canvas.style.height = `${high}px`;
    canvas.setAttribute("aria-label", `${name} Turned by ${Math.round(turn)} degrees, seen from ${Math.round(lift)} degrees above.`);
    const g = canvas.getContext("2d");
    if (!g) return; // the picture of the server was there
    g.scale(dense, dense);
    const t = turn * Math.PI / 180, e = lift * Math.PI / 180;
    const k = Math.min((wide - 40) / (2.3 * radius), (high - 40) / (2.3 * radius * Math.sin(e) + top * Math.cos(e) + 1));
    const cx = wide / 2, cy = high / 2 + k * top * Math.cos(e) / 2;
    const at = ([x, y, z]: readonly [number, number, number]) => {
      const dx = x - mx, dy = y - my, rx = dx * Math.cos(t) - dy * Math.sin(t), ry = dx * Math.sin(t) + dy * Math.cos(t);
      return { x: cx + k * rx, y: cy - k * (z * Math.cos(e) + ry * Math.sin(e)), near: z * Math.sin(e) - ry * Math.cos(e), rx, ry, z };
    };
    const outline = (points: { x: number; y: number }[]) => { g.beginPath(); points.forEach((p, i) => { if (i) g.lineTo(p.x, p.y); else g.moveTo(p.x, p.y); }); };
    outline(Array.from({ length: 72 }, (_, i) => { const a = i * Math.PI / 36; return at([mx + 1.12 * radius * Math.cos(a), my + 1.12 * radius * Math.sin(a), 0]); }));
    g.closePath(); g.fillStyle = role("--band"); g.fill(); g.strokeStyle = role("--field"); g.lineWidth = 1; g.stroke();
    const rings = body.rings.map((r) => r.map(at));
    interface Piece { near: number; paint: () => void }
    const pieces: Piece[] = [];
    for (let i = 1; i < rings.length; i++) {
      const lower = rings[i - 1]!, upper = rings[i]!;
      for (let j = 0; j < lower.length; j++) {
        const n = (j + 1) % lower.length, a = lower[j]!, b = lower[n]!, c = upper[n]!, d = upper[j]!;
        if ((c.x - a.x) * (d.y - b.y) - (c.y - a.y) * (d.x - b.x) >= 0) continue; // looks away
        const ux = c.rx - a.rx, uy = c.ry - a.ry, uz = c.z - a.z, vx = d.rx - b.rx, vy = d.ry - b.ry, vz = d.z - b.z;
        const nx = uy * vz - uz * vy, ny = uz * vx - ux * vz, nz = ux * vy - uy * vx, l = Math.hypot(nx, ny, nz) || 1;
        const tone = lamp * Math.min(1, 0.36 + 0.6 * Math.max(0, (-0.62 * nx - 0.62 * ny + 0.48 * nz) / l));
        pieces.push({ near: (a.near + b.near + c.near + d.near) / 4, paint: () => {
          outline([a, b, c, d]); g.closePath();
          g.fillStyle = g.strokeStyle = `rgb(${250 * tone} ${242 * tone} ${230 * tone})`; g.lineWidth = 0.7; g.fill(); g.stroke();
        } });
      }
    }
    const section = body.section?.map(at) ?? [];
    section.forEach((a, j) => {
      const b = section[(j + 1) % section.length]!;
      pieces.push({ near: (a.near + b.near) / 2 + 25, paint: () => { outline([a, b]); g.lineCap = "round"; g.strokeStyle = "#ffffff"; g.lineWidth = 5; g.stroke(); g.strokeStyle = "#d55e00"; g.lineWidth = 3; g.stroke(); } });
    });
    pieces.sort((p, q) => p.near - q.near).forEach((p) => p.paint());
    const last = rings.at(-1);
    if (last) { outline(last); g.closePath(); g.fillStyle = `rgb(${246 * lamp} ${242 * lamp} ${233 * lamp})`; g.fill(); g.strokeStyle = role("--ink"); g.lineWidth = 1.2; g.setLineDash([7, 3]); g.stroke(); g.setLineDash([]); }
  }
  const put = (t: number, l: number) => { turn = ((t % 360) + 360) % 360; lift = Math.min(Math.max(l, 5), 85); requestAnimationFrame(draw); };
  canvas.addEventListener("keydown", (e) => {
    const step = e.shiftKey ? 30 : 5;
    const by: Record<string, [number, number]> = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    const d = by[e.key];
    if (d) { e.preventDefault(); put(turn + d[0], lift + d[1]); }
  });
  canvas.addEventListener("pointerdown", (e) => {
    const from = { x: e.clientX, y: e.clientY, turn, lift };
    canvas.setPointerCapture(e.pointerId);
    canvas.onpointermove = (m) => put(from.turn + (m.clientX - from.x) / 2, from.lift + (m.clientY - from.y) / 3);
    canvas.onpointerup = canvas.onpointercancel = () => { canvas.onpointermove = null; };
  });
  for (const a of box.querySelectorAll<HTMLAnchorElement>(".scanturns a")) {
    a.addEventListener("click", (e) => {
      if (e.ctrlKey || e.metaKey || e.shiftKey) return;
      e.preventDefault();
      box.querySelector(".scanturns [aria-current]")?.removeAttribute("aria-current");
      a.setAttribute("aria-current", "true");
      put(Number(new URL(a.href).searchParams.get("turn")), 20);
    });
  }
  drawn.replaceChildren(canvas);
  how.hidden = false;
  draw();
  window.addEventListener("resize", draw);
}
