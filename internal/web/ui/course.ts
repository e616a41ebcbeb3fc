// Read-out of the course: hovering or focusing a mark writes its words below the
// picture; arrows go from mark to mark in order of time.

import { tell } from "./lib/tell";

for (const picture of document.querySelectorAll<HTMLElement>("[data-course]")) {
  const readout = picture.querySelector<HTMLElement>(".readout");
  const marks = Array.from(picture.querySelectorAll<SVGElement>(".mark"));
  const day = (m: SVGElement) => Number(m.dataset.day ?? 0);
  marks.sort((a, b) => day(a) - day(b));
  const show = (m: SVGElement) => { if (readout) readout.textContent = m.dataset.text ?? ""; };
  for (const mark of marks) {
    mark.addEventListener("pointerenter", () => show(mark));
    mark.addEventListener("focus", () => show(mark));
    mark.addEventListener("click", () => { show(mark); });
  }
  picture.addEventListener("keydown", (e) => {
    const at = marks.indexOf(document.activeElement as unknown as SVGElement);
    const step = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
    if (at < 0 || !step) return;
    e.preventDefault();
    const next = marks[Math.min(Math.max(at + step, 0), marks.length - 1)];
    next?.focus();
    if (next) tell(next.dataset.text ?? "");
  });
}
