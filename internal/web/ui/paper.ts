// The print page of a sheet: a button where a browser can print by itself.

const button = document.querySelector<HTMLButtonElement>("[data-print]");
if (button) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
