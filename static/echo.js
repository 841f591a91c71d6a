"use strict";

// One's own number once more, in words and in the other unit: a slip of the point is seen before it is handed in.
// Nothing but the field itself is looked at, and every step is on whole digits: no floating number.

const QUIET_FOR_MS = 600;

// What the program accepts: nine digits, six decimals of which the last is no zero. All else has no echo.
const WELL_WRITTEN = /^(0|[1-9][0-9]{0,8})(?:\.([0-9]{0,5}[1-9]))?$/;

const SMALL = ("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen " +
  "seventeen eighteen nineteen").split(" ");
const TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split(" ");
const GROUPS = [[1000000, "million"], [1000, "thousand"]];

// One of it, and more of it.
const UNIT_WORDS = {
  "mg": ["milligram", "milligrams"],
  "mcg": ["microgram", "micrograms"],
  "mL": ["millilitre", "millilitres"],
  "h": ["hour", "hours"],
  "min": ["minute", "minutes"],
  "s": ["second", "seconds"],
  "mg/h": ["milligram per hour", "milligrams per hour"],
  "mcg/h": ["microgram per hour", "micrograms per hour"],
  "mL/h": ["millilitre per hour", "millilitres per hour"],
  "mg/mL": ["milligram per millilitre", "milligrams per millilitre"],
  "mcg/mL": ["microgram per millilitre", "micrograms per millilitre"],
  "kg": ["kilogram", "kilograms"],
  "/min": ["per minute", "per minute"],
  "%": ["per cent", "per cent"],
  "mmHg": ["millimetre of mercury", "millimetres of mercury"],
};

// The other unit, and how many of it (or how many parts of it) make one.
const OTHER_UNIT = {
  "mg": ["mcg", 1000n, 1n],
  "mcg": ["mg", 1n, 1000n],
  "mg/h": ["mcg/h", 1000n, 1n],
  "mcg/h": ["mg/h", 1n, 1000n],
  "mg/mL": ["mcg/mL", 1000n, 1n],
  "mcg/mL": ["mg/mL", 1n, 1000n],
  "h": ["min", 60n, 1n],
  "min": ["h", 1n, 60n],
};

function belowThousand(number) {
  const hundreds = Math.trunc(number / 100);
  const rest = number % 100;
  const words = hundreds ? [`${SMALL[hundreds]} hundred`] : [];
  if (rest) {
    const ones = rest % 10 ? `-${SMALL[rest % 10]}` : "";
    words.push(rest < 20 ? SMALL[rest] : TENS[Math.trunc(rest / 10)] + ones);
  }
  return words.join(" and ");
}

function wholeInWords(digits) {
  let rest = Number.parseInt(digits, 10);
  if (rest === 0) {
    return SMALL[0];
  }
  const words = [];
  for (const [size, name] of GROUPS) {
    if (rest >= size) {
      words.push(`${belowThousand(Math.trunc(rest / size))} ${name}`);
      rest %= size;
    }
  }
  if (rest) {
    words.push((words.length && rest < 100 ? "and " : "") + belowThousand(rest));
  }
  return words.join(" ");
}

function grouped(whole) {
  return whole.replace(/\B(?=([0-9]{3})+$)/g, ",");
}

// In the other unit, exactly; blank where it has none.
function inOther(whole, decimals, unit) {
  const [other, times, parts] = OTHER_UNIT[unit] || [];
  if (!other) {
    return "";
  }
  const places = decimals.length + 3;
  const scaled = BigInt(whole + decimals + "000") * times;
  // Parts of an hour are said in minutes alone.
  const step = unit === "min" ? parts * 1000n : parts;
  if (scaled === 0n || scaled % step) {
    return "";
  }
  const digits = (scaled / parts).toString().padStart(places + 1, "0");
  const point = digits.length - places;
  const part = digits.slice(point).replace(/0+$/, "");
  return `${grouped(digits.slice(0, point))}${part ? "." + part : ""} ${other}`;
}

// "0.2 mg: zero point two milligrams, 200 mcg"; blank for what is not written well or has no unit yet.
function echoOf(typed, unit) {
  const written = WELL_WRITTEN.exec(typed.trim());
  if (!written || !Object.hasOwn(UNIT_WORDS, unit)) {
    return "";
  }
  const [, whole, decimals = ""] = written;
  const point = decimals ? ` point ${[...decimals].map((each) => SMALL[each]).join(" ")}` : "";
  const [one, more] = UNIT_WORDS[unit];
  const words = `${wholeInWords(whole)}${point} ${whole === "1" && !decimals ? one : more}`;
  const number = `${grouped(whole)}${decimals ? "." + decimals : ""}`;
  const other = inOther(whole, decimals, unit);
  return `${number} ${unit}: ${words}${other ? ", " + other : ""}`;
}

// The line has its room from the start: nothing moves under a finger that is on its way.
function offerEcho(row) {
  const field = row.querySelector("input.number");
  if (!field) {
    return;
  }
  const line = document.createElement("p");
  line.className = "echo";
  line.setAttribute("aria-live", "polite");
  const say = () => {
    const only = row.querySelector(".unit");
    const chosen = row.querySelector(`[name="${field.name}_unit"]:checked`);
    line.textContent = echoOf(field.value, chosen ? chosen.value : only ? only.textContent : "");
  };
  let waiting = 0;
  const later = () => {
    line.textContent = "";
    window.clearTimeout(waiting);
    waiting = window.setTimeout(say, QUIET_FOR_MS);
  };
  row.addEventListener("input", later);
  row.addEventListener("change", later);
  row.querySelector(".controls").append(line);
  say();
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("fieldset[data-field]").forEach(offerEcho);
});
