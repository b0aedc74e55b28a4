"use strict";
// Before the terminal opens: letters as large as 80 columns and 24 rows allow, between 7 and 18 px.
const terminal = document.getElementById("terminal");
const fits = Math.min(18, terminal.clientWidth / 80 / 0.61, terminal.clientHeight / 24 / 1.33);
terminal.dataset.fontSize = terminal.dataset.fontSize || String(Math.max(7, Math.floor(fits * 2) / 2));

const typed = () => document.querySelector(".xterm-helper-textarea");
const lookingOn = document.body.dataset.lookingOn === "yes";
addEventListener("load", () => setTimeout(() => { // once the terminal has opened, on the same event
  if (!typed()) return;
  if (lookingOn) typed().inputMode = "none"; // a tap brings up no keyboard: there is nothing to type
  if (!matchMedia("(pointer: coarse)").matches) typed().focus();
}));

// The keys of a phone: what is pressed goes to the app as if it had been typed.
document.getElementById("keys").addEventListener("click", (event) => {
  const key = event.target.dataset.key;
  if (!key || !typed()) return;
  if (key === "Escape") {
    typed().dispatchEvent(new KeyboardEvent("keydown", { key, keyCode: 27, bubbles: true }));
  } else {
    typed().dispatchEvent(new InputEvent("input", { data: key, inputType: "insertText", bubbles: true }));
  }
});
