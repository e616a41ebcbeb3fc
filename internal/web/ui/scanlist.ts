// Bringing a scan in: dropping it, how much of it is sent, and the questions that
// must be settled before it is kept. The file stays chosen while they are.

import { tell } from "./lib/tell";

interface Answer { to?: string; notes?: string[]; error?: { what: string; expected?: string; mend?: string }; side?: boolean; person?: boolean }

const form = document.querySelector<HTMLFormElement>("[data-bring]");
if (form) run(form);

function run(form: HTMLFormElement): void {
  const file = form.querySelector<HTMLInputElement>("#file")!;
  const drop = form.querySelector<HTMLElement>("[data-drop]")!;
  const way = form.querySelector<HTMLElement>("[data-way]")!;
  const words = form.querySelector<HTMLElement>("[data-way-words]")!;
  const bar = way.querySelector("progress")!;
  const refused = form.querySelector<HTMLElement>("[data-refused]")!;
  const settle = form.querySelector<HTMLFieldSetElement>("[data-settle]")!;
  const stop = form.querySelector<HTMLButtonElement>("[data-stop]")!;
  const send = form.querySelector<HTMLButtonElement>("button:not([type=button])")!;
  form.querySelector<HTMLElement>("[data-drop-words]")!.hidden = false;

  for (const name of ["dragover", "dragenter"]) drop.addEventListener(name, (e) => { e.preventDefault(); drop.classList.add("over"); });
  for (const name of ["dragleave", "drop"]) drop.addEventListener(name, () => drop.classList.remove("over"));
  drop.addEventListener("drop", (e) => {
    e.preventDefault();
    const files = e.dataTransfer?.files;
    if (files?.length) { file.files = files; tell(`${files[0]?.name} chosen`); if (files.length > 1) say("Several files were dropped; one scan is one file. Pack slices into a zip."); }
  });

  function say(what: string, expected?: string, mend?: string): void {
    const box = document.createElement("div");
    box.className = "signal stop";
    const add = (text: string, strong: boolean) => {
      const p = document.createElement("p");
      const inner = strong ? document.createElement("strong") : p;
      inner.textContent = text;
      if (strong) p.append(inner);
      box.append(p);
    };
    add("■ Not kept: " + what, true);
    if (expected) add("Expected: " + expected, false);
    if (mend) add("To mend: " + mend, false);
    refused.replaceChildren(box);
  }

  form.addEventListener("submit", (e) => {
    e.preventDefault();
    refused.replaceChildren();
    // Fields must come before the file, which is read as it arrives.
    const data = new FormData();
    for (const [name, value] of new FormData(form)) if (name !== "file") data.append(name, value);
    if (file.files?.[0]) data.append("file", file.files[0]);
    const request = new XMLHttpRequest();
    request.open("POST", form.action || location.href);
    request.setRequestHeader("Accept", "application/json");
    const end = () => { way.hidden = true; stop.hidden = true; send.disabled = false; };
    request.upload.addEventListener("progress", (p) => {
      if (!p.lengthComputable) return;
      const percent = Math.floor(100 * p.loaded / p.total);
      bar.value = percent;
      words.textContent = percent < 100 ? `${percent} % sent, ${(p.loaded / 1048576).toFixed(1)} of ${(p.total / 1048576).toFixed(1)} MiB` : "Sent. The sides are compared and the file is stored.";
      if (percent % 25 === 0) tell(`${percent} % sent`);
    });
    request.addEventListener("load", () => {
      end();
      let answer: Answer = {};
      try { answer = JSON.parse(request.responseText) as Answer; } catch { /* not ours */ }
      if (request.status === 200 && answer.to) { location.assign(answer.to); return; }
      const error = answer.error ?? { what: `the server answered ${request.status}` };
      say(error.what, error.expected, error.mend);
      settle.hidden = !(answer.side || answer.person);
      const side = settle.querySelector<HTMLElement>("[data-settle-side]")!, person = settle.querySelector<HTMLElement>("[data-settle-person]")!;
      side.hidden = !answer.side; person.hidden = !answer.person;
      refused.scrollIntoView({ block: "nearest" });
    });
    request.addEventListener("error", () => { end(); say("the connection broke; nothing was kept", undefined, "send it again"); });
    request.addEventListener("abort", () => { end(); say("you stopped it; nothing was kept"); });
    stop.onclick = () => request.abort();
    way.hidden = false; stop.hidden = false; send.disabled = true; bar.value = 0;
    words.textContent = "Sending";
    request.send(data);
  });
}
