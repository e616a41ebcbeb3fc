// The Bubble station: days and positions of the head by sliders and by dragging the
// head. The server computes and draws; this asks for the drawing of a day and a
// position and puts it in place of the one before.

import { tell } from "./lib/tell";

// Where the eye and the retina stand in the drawing, in its own units.
const eyeX = 214, eyeY = 208, halfWay = 420;

const section = document.getElementById("bubble");
const drawn = document.getElementById("drawn");
const form = section?.querySelector<HTMLFormElement>("form.slide");
const day = document.getElementById("dayslide") as HTMLInputElement | null;
const pitch = document.getElementById("pitchslide") as HTMLInputElement | null;
const roll = document.getElementById("rollslide") as HTMLInputElement | null;

if (section && drawn && form && day && pitch && roll) {
  const days = (day.dataset.days ?? "").split(",");
  form.hidden = false;
  section.classList.add("draggable");
  let busy = false, again = false;

  const address = (base: string) => {
    const q = new URLSearchParams(location.search);
    q.set("day", days[Number(day.value)] ?? "1");
    q.set("pitch", pitch.value);
    q.set("roll", roll.value);
    q.delete("posture");
    return base + "?" + q.toString();
  };

  const ask = async () => {
    if (busy) { again = true; return; }
    busy = true;
    try {
      const answer = await fetch(address(section.dataset.bubble ?? ""), { headers: { Accept: "text/html" } });
      if (answer.ok) {
        // The page's own server drew it; scripts in it would not run.
        drawn.innerHTML = await answer.text();
        history.replaceState(null, "", address(location.pathname));
      }
    } finally {
      busy = false;
      if (again) { again = false; void ask(); }
    }
  };

  for (const slide of [day, pitch, roll]) {
    slide.addEventListener("input", () => void ask());
    slide.addEventListener("change", () => tell(drawn.querySelector("svg desc")?.textContent ?? ""));
  }

  // A posture's button sets the sliders and draws, without a new page.
  drawn.addEventListener("click", (e) => {
    const link = (e.target as Element).closest<HTMLAnchorElement>(".chips a, .dayturn a");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button !== 0) return;
    e.preventDefault();
    if (link.dataset.pitch !== undefined) {
      pitch.value = link.dataset.pitch;
      roll.value = link.dataset.roll ?? "0";
    } else {
      const at = days.indexOf(new URL(link.href).searchParams.get("day") ?? "");
      if (at >= 0) day.value = String(at);
    }
    const words = link.textContent ?? "";
    void ask().then(() => {
      const same = Array.from(drawn.querySelectorAll<HTMLAnchorElement>(".chips a, .dayturn a")).find((a) => a.textContent === words);
      same?.focus();
      tell(drawn.querySelector("svg desc")?.textContent ?? "");
    });
  });

  // Dragging the head turns it round the eye; dragging round the retina tilts it to
  // the side.
  let from: { angle: number; left: boolean; pitch: number; roll: number } | null = null;
  const angleAt = (e: PointerEvent): { angle: number; left: boolean } | null => {
    const svg = drawn.querySelector("svg");
    const matrix = svg?.getScreenCTM();
    if (!svg || !matrix) return null;
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(matrix.inverse());
    const left = from ? from.left : p.x < halfWay;
    return { angle: (Math.atan2(p.y - eyeY, p.x - (left ? eyeX : 580)) * 180) / Math.PI, left };
  };
  const clamp = (x: number, most: number) => String(Math.max(-most, Math.min(most, 5 * Math.round(x / 5))));
  drawn.addEventListener("pointerdown", (e) => {
    if (!(e.target as Element).closest("svg")) return;
    const at = angleAt(e);
    if (!at) return;
    from = { ...at, pitch: Number(pitch.value), roll: Number(roll.value) };
    drawn.setPointerCapture(e.pointerId);
    e.preventDefault();
  });
  drawn.addEventListener("pointermove", (e) => {
    const at = from && angleAt(e);
    if (!from || !at) return;
    const turned = ((at.angle - from.angle + 540) % 360) - 180;
    const facing = document.querySelector(".eyehead .side")?.textContent === "Left" ? -1 : 1;
    if (from.left) pitch.value = clamp(from.pitch + facing * turned, 90);
    else roll.value = clamp(from.roll + turned, 90);
    void ask();
  });
  for (const end of ["pointerup", "pointercancel"]) drawn.addEventListener(end, () => { from = null; });
}
