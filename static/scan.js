"use strict";

// A scanner types what it has read and then presses Enter. In the line for a scan Enter fills in, with or without this
// file; with it, Enter in any other field goes on as it does on every other page.

const GROUP_SEPARATOR = "\u001d";

function handleScanner(scan) {
  const form = scan.form;
  // Enter in the line does the same: one stop less on the way from field to field.
  scan.parentElement.querySelector("button").tabIndex = -1;
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input") && event.target !== scan) {
      event.preventDefault();
      form.requestSubmit(form.querySelector("button.main"));
    }
  });
  // Scanners press Ctrl and the closing bracket for the mark between two parts; a field would let it fall.
  scan.addEventListener("keydown", (event) => {
    if (event.ctrlKey && !event.altKey && event.code === "BracketRight") {
      event.preventDefault();
      scan.setRangeText(GROUP_SEPARATOR, scan.selectionStart, scan.selectionEnd, "end");
    }
  });
}

// Whoever scans where nothing can be written means this line. Every code begins with one of these, and no name does.
function catchScan(scan) {
  document.addEventListener("keydown", (event) => {
    const writes = document.activeElement.matches("input[type=text]");
    if (!writes && /^[0-9(\]]$/.test(event.key) && !event.ctrlKey && !event.metaKey) {
      scan.focus();
    }
  });
}

// What was changed since is no longer from the scan.
function followChange(scanned) {
  const row = scanned.closest(".row");
  const follow = () => {
    row.querySelector(".said").hidden = row.querySelector("input[type=text]").value !== scanned.value;
  };
  row.addEventListener("input", follow);
  row.addEventListener("change", follow);
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("#field-scan").forEach((scan) => {
    handleScanner(scan);
    catchScan(scan);
  });
  document.querySelectorAll("input[name$=_scanned]").forEach(followChange);
});
