"use strict";

// One's own number in words and in the other unit, and one's own date with its month as a word: a slip is seen at once.
// Only the field itself is looked at, in whole digits: no floating number.

const QUIET_FOR_MS = 600;

// What the program accepts: nine digits, six decimals of which the last is no zero. All else has no echo.
const WELL_WRITTEN = /^(0|[1-9][0-9]{0,8})(?:\.([0-9]{0,5}[1-9]))?$/;

const SMALL = ("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen " +
  "seventeen eighteen nineteen").split(" ");
const TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split(" ");
const GROUPS = [[1000000, "million"], [1000, "thousand"]];

// One of it; of more of it the first word has an s.
const UNIT_WORDS = {
  "mg": "milligram",
  "mcg": "microgram",
  "mL": "millilitre",
  "h": "hour",
  "min": "minute",
  "s": "second",
  "mg/h": "milligram per hour",
  "mcg/h": "microgram per hour",
  "mL/h": "millilitre per hour",
  "mg/mL": "milligram per millilitre",
  "mcg/mL": "microgram per millilitre",
  "kg": "kilogram",
  "/min": "per minute",
  "%": "per cent",
  "mmHg": "millimetre of mercury",
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
  const one = UNIT_WORDS[unit];
  const more = one.replace(/^(?!per)[a-z]+/, "$&s");
  const words = `${wholeInWords(whole)}${point} ${whole === "1" && !decimals ? one : more}`;
  const number = `${grouped(whole)}${decimals ? "." + decimals : ""}`;
  const other = inOther(whole, decimals, unit);
  return `${number} ${unit}: ${words}${other ? ", " + other : ""}`;
}

const MONTHS = ("January February March April May June July August September October November December").split(" ");
// As the program reads a date: three parts, of which the month may be a word; or eight digits.
const PART = "([0-9]+|[A-Za-z]+)";
const BETWEEN = "(?:, ?|\\. ?|[ /-]|(?<=[0-9])(?=[A-Za-z])|(?<=[A-Za-z])(?=[0-9]))";
const DATE = new RegExp(`^${PART}${BETWEEN}${PART}${BETWEEN}${PART}$`);
const EARLIEST = 1800;
const EIGHT_DIGITS = /^[0-9]{8}$/;
const YEAR = /^[0-9]{4}$/;
const DAY = /^[0-9]{1,2}$/;

// Blank for a day that is none.
function dayInWords(year, month, day) {
  const made = new Date(Date.UTC(year, month - 1, day));
  made.setUTCFullYear(year);
  const isOne = year >= EARLIEST && month >= 1 && made.getUTCMonth() === month - 1 && made.getUTCDate() === day;
  return isOne ? `${day} ${MONTHS[month - 1]} ${year}` : "";
}

// Blank too where two days could be meant.
function inOrder(first, second, year, order) {
  const readings = [];
  if (order !== "month-day-year") {
    readings.push(dayInWords(year, second, first));
  }
  if (order !== "day-month-year") {
    readings.push(dayInWords(year, first, second));
  }
  const days = new Set(readings.filter((each) => each));
  return days.size === 1 ? [...days][0] : "";
}

function withWord(parts, year) {
  const word = parts.find((each) => /[A-Za-z]/.test(each)).toLowerCase();
  const named = MONTHS.filter((each) => word.length >= 3 && each.toLowerCase().startsWith(word));
  const days = parts.filter((each) => DAY.test(each));
  return named.length === 1 && days.length === 1 ? dayInWords(year, MONTHS.indexOf(named[0]) + 1, Number(days[0])) : "";
}

// "23 November 1958", so that a month taken for a day is seen; blank for whatever the program would refuse.
function dateEchoOf(typed, order) {
  const text = typed.trim();
  if (EIGHT_DIGITS.test(text)) {
    const [first, second, last] = [text.slice(0, 2), text.slice(2, 4), text.slice(4)].map(Number);
    const yearFirst = dayInWords(Number(text.slice(0, 4)), Number(text.slice(4, 6)), Number(text.slice(6)));
    return yearFirst || order === "year-month-day" ? yearFirst : inOrder(first, second, last, order);
  }
  const parts = (DATE.exec(text) || []).slice(1);
  const years = parts.filter((each) => YEAR.test(each));
  if (years.length !== 1 || parts.some((each) => /^[0-9]+$/.test(each) && !YEAR.test(each) && !DAY.test(each))) {
    return "";
  }
  const year = Number(years[0]);
  if (parts.some((each) => /[A-Za-z]/.test(each))) {
    return withWord(parts, year);
  }
  if (parts[0] === years[0]) {
    return dayInWords(year, Number(parts[1]), Number(parts[2]));
  }
  return parts[2] === years[0] ? inOrder(Number(parts[0]), Number(parts[1]), year, order) : "";
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
  row.querySelector(".controls").append(line);
  follow(row, () => {
    line.textContent = "";
  }, () => {
    const only = row.querySelector(".unit");
    const chosen = row.querySelector(`[name="${field.name}_unit"]:checked`);
    line.textContent = echoOf(field.value, chosen ? chosen.value : only ? only.textContent : "");
  });
}

// A date's stands in the place of its hint.
function offerDateEcho(row) {
  const field = row.querySelector("input[data-date-order]");
  if (!field) {
    return;
  }
  const line = row.querySelector(".hint");
  const hint = line.textContent;
  const show = (echo) => {
    line.textContent = echo || hint;
    line.classList.toggle("echoed", echo !== "");
  };
  line.setAttribute("aria-live", "polite");
  follow(row, () => show(""), () => show(dateEchoOf(field.value, field.dataset.dateOrder)));
}

// It is said once nothing was typed for a moment, and gone as soon as something is.
function follow(row, clear, say) {
  let waiting = 0;
  const later = () => {
    clear();
    window.clearTimeout(waiting);
    waiting = window.setTimeout(say, QUIET_FOR_MS);
  };
  row.addEventListener("input", later);
  row.addEventListener("change", later);
  say();
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("fieldset[data-field]").forEach((row) => {
    offerEcho(row);
    offerDateEcho(row);
  });
});
