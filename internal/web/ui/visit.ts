// The form of a visit: says below each line of acuity how it is understood while
// somebody types, and offers usual days for the next visit. Without this script
// the server says the same when the form is sent.

import { tell } from "./lib/tell";

const form = document.querySelector<HTMLFormElement>("form[data-reading]");

function liveReading(form: HTMLFormElement): void {
  for (const input of form.querySelectorAll<HTMLInputElement>("[data-acuity]")) {
    const row = input.dataset.acuity ?? "";
    const below = document.getElementById("reading-" + row);
    if (!below) continue;
    let asked = 0;
    let timer = 0;
    const ask = async () => {
      const mine = ++asked;
      const text = input.value.trim();
      try {
        const query = new URLSearchParams({ row, text });
        const answer = await fetch(form.dataset.reading + "?" + query.toString(), { headers: { Accept: "text/html" } });
        if (!answer.ok || mine !== asked) return;
        // The answer is a page of this server, whose texts are escaped there.
        const parsed = new DOMParser().parseFromString(await answer.text(), "text/html");
        below.replaceChildren(...Array.from(parsed.body.childNodes));
        tell(Array.from(below.querySelectorAll(".understood")).map((p) => p.textContent?.trim()).join(". "));
      } catch { /* the form asks when it is sent */ }
    };
    input.addEventListener("input", () => {
      asked++;
      below.replaceChildren(); // never an old reading below a new text
      window.clearTimeout(timer);
      timer = window.setTimeout(ask, 150);
    });
  }
}

/** Usual times until the next visit: words, days, months. */
const usual: [string, number, number][] = [["1 day", 1, 0], ["1 week", 7, 0], ["2 weeks", 14, 0], ["1 month", 0, 1], ["3 months", 0, 3], ["6 months", 0, 6]];

function usualDays(form: HTMLFormElement): void {
  const place = form.querySelector<HTMLElement>("[data-due]");
  const due = form.querySelector<HTMLInputElement>("[name=due]");
  const on = form.querySelector<HTMLInputElement>("[name=on]");
  if (!place || !due || !on) return;
  place.className = "dues";
  place.hidden = false;
  for (const [words, days, months] of usual) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "second";
    button.textContent = words;
    button.addEventListener("click", () => {
      const told = /^(\d{4})-(\d{2})-(\d{2})$/.exec(on.value.trim());
      const from = told ? new Date(Date.UTC(Number(told[1]), Number(told[2]) - 1, Number(told[3]))) : new Date();
      const day = from.getUTCDate();
      from.setUTCMonth(from.getUTCMonth() + months, day + days);
      // The 31st of a month without one would run into the next.
      if (months && from.getUTCDate() !== day) from.setUTCDate(0);
      due.value = from.toISOString().slice(0, 10);
      tell(words + ": " + due.value);
    });
    place.append(button);
  }
}

if (form) {
  liveReading(form);
  usualDays(form);
}
const summary = document.getElementById("summary");
if (summary) summary.focus();
