/** tell says something to screen readers without moving the focus. */
export function tell(text: string): void {
  const told = document.getElementById("told");
  if (told) told.textContent = text;
}
