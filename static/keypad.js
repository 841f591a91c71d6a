"use strict";

// A keypad on the page for fingers in gloves, where somebody asks for it; without asking there is none. It does what
// the keyboard does, a sign where the caret is, and nothing by itself.

const KEPT_AS = "keypad";
// How wide a key is, in millimetres; fields.css knows them too.
const SIZES = [["", "None"], ["12", "Small keys"], ["16", "Medium keys"], ["20", "Large keys"]];
const BACKSPACE = "Backspace";
const CLEAR = "Clear";
// Ascending from the top, as on a telephone.
const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", BACKSPACE, CLEAR];
const NAMES = { ".": "Point", [BACKSPACE]: BACKSPACE, [CLEAR]: "Clear the number" };

// A browser that keeps nothing for pages throws: then the choice holds for this page.
function keptSize() {
  let kept = "";
  try {
    kept = window.localStorage.getItem(KEPT_AS);
  } catch {
    // Nothing is kept.
  }
  return SIZES.some(([size]) => size === kept) ? kept : "";
}

function keepSize(size) {
  try {
    window.localStorage.setItem(KEPT_AS, size);
  } catch {
    // Nothing is kept.
  }
}

function make(tag, className, text = "") {
  const made = document.createElement(tag);
  made.className = className;
  made.textContent = text;
  return made;
}

// An arrow to the left, drawn: not every font has one.
function makeArrow() {
  const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  drawing.setAttribute("viewBox", "0 0 28 28");
  drawing.setAttribute("aria-hidden", "true");
  const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
  line.setAttribute("d", "M25 14H4M12 6 4 14l8 8");
  drawing.append(line);
  return drawing;
}

function strike(field, key) {
  const before = field.value;
  const [start, end] = [field.selectionStart, field.selectionEnd];
  if (key === CLEAR) {
    field.setRangeText("", 0, before.length, "end");
  } else if (key === BACKSPACE) {
    field.setRangeText("", start === end ? Math.max(start - 1, 0) : start, end, "end");
  } else {
    field.setRangeText(key, start, end, "end");
  }
  if (field.value !== before) {
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

function makeKeypad(fields) {
  const keypad = make("section", "keypad");
  keypad.setAttribute("aria-label", "Keypad");
  const writesTo = make("p", "label", "Touch the field for a number first.");
  const keys = make("div", "keys");
  let field = null;
  for (const key of KEYS) {
    const button = make("button", "key", key === BACKSPACE ? "" : key);
    button.type = "button";
    button.setAttribute("aria-label", NAMES[key] || key);
    if (key === BACKSPACE) {
      button.append(makeArrow());
    }
    button.addEventListener("click", () => {
      if (field) {
        strike(field, key);
      }
    });
    keys.append(button);
  }
  // A finger on a key leaves the caret where it is.
  keypad.addEventListener("mousedown", (event) => event.preventDefault());
  for (const each of fields) {
    each.addEventListener("focus", () => {
      field = each;
      writesTo.textContent = each.closest(".row").querySelector(".label").textContent;
    });
  }
  keypad.append(writesTo, keys);
  return keypad;
}

// Beside the buttons of the form, where it takes no line of its own; without a name it is not sent.
function makeChoice(chosen, choose) {
  const label = make("label", "gloves");
  const select = make("select", "");
  select.append(...SIZES.map(([size, words]) => new Option(words, size, false, size === chosen)));
  select.addEventListener("change", (event) => {
    event.stopPropagation();
    choose(select.value);
  });
  label.append(make("span", "", "Keypad for gloves"), select);
  return label;
}

function offerKeypad(form) {
  const fields = form.querySelectorAll("input.number");
  if (!fields.length) {
    return;
  }
  const keypad = makeKeypad(fields);
  const set = (size) => {
    document.documentElement.dataset.keypad = size;
    // The device's own keyboard stays away as long as there is one here.
    fields.forEach((field) => {
      field.inputMode = size ? "none" : "decimal";
    });
    if (size) {
      form.querySelector(".sheet").after(keypad);
    } else {
      keypad.remove();
    }
  };
  const kept = keptSize();
  (form.querySelector(".actions:not(.in-sight)") || form).append(makeChoice(kept, (size) => {
    keepSize(size);
    set(size);
  }));
  set(kept);
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("main form").forEach(offerKeypad);
});
