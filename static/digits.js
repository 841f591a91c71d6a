"use strict";

// Six digits by large keys for fingers in gloves, or by the keyboard; the sixth one sends them. Nothing is kept.

const LENGTH = 6;
const BACK = "Back";
const CLEAR = "Clear";
// Ascending from the top, as on a telephone.
const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", CLEAR, "0", BACK];

function offerDigits(form) {
  const field = form.querySelector("input.digits");
  const pad = document.createElement("div");
  pad.className = "pad";
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", "Digits");
  const sendWhenWhole = () => {
    if (field.value.length === LENGTH) {
      form.requestSubmit();
    }
  };
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = key.length > 1 ? "words" : "";
    button.textContent = key;
    // With keys alone one types them.
    button.tabIndex = -1;
    button.addEventListener("click", () => {
      if (key === CLEAR) {
        field.value = "";
      } else if (key === BACK) {
        field.value = field.value.slice(0, -1);
      } else if (field.value.length < LENGTH) {
        field.value += key;
        sendWhenWhole();
      }
    });
    pad.append(button);
  }
  // A finger on a key leaves the caret where it is, and the device's own keyboard stays away.
  pad.addEventListener("mousedown", (event) => event.preventDefault());
  field.inputMode = "none";
  field.addEventListener("input", sendWhenWhole);
  form.querySelector(".sheet").after(pad);
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("form[data-digits]").forEach(offerDigits);
});
