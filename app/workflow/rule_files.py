"""The files of a site's rules, read as strictly as rules must be: each key once, and exact numbers alone."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from app.records.rules import LIBRARY, OBSERVATIONS, PACKS, POLICY, STEPS

FILES: Mapping[str, str] = {
    POLICY: "policy.json",
    LIBRARY: "library.json",
    STEPS: "safety_steps.json",
    PACKS: "packs.json",
    OBSERVATIONS: "observations.json",
}
UNITS = "units.json"
# No file of rules comes near it; what is larger is another file.
LARGEST = 1024 * 1024
_TOO_LARGE = "larger than any file of rules"


@dataclass(frozen=True, kw_only=True)
class RuleFault:
    """Why a file of rules cannot count: the file, the place in it, and the reason."""

    file: str
    path: str
    why: str

    @property
    def says(self) -> str:
        """In one line, whatever the file holds."""
        says = ": ".join(part for part in (self.file, self.path, self.why) if part)
        return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in says)


@dataclass(frozen=True, kw_only=True)
class RulesWrong:
    """Rules by which no check may be judged; nothing of them was published."""

    faults: tuple[RuleFault, ...]


@dataclass(frozen=True, kw_only=True)
class RuleFiles:
    """What the files of one folder say; `units` is None where the folder has no file of them."""

    published: Mapping[str, Any]
    units: Any = None


class _NotStrictError(ValueError):
    pass


def read_rules(folder: Path) -> RuleFiles | RulesWrong:
    """Read the files of a folder; whether they may count is another question."""
    names = {**FILES, **({UNITS: UNITS} if (folder / UNITS).exists() else {})}
    read = {what: _read(folder / name) for what, name in names.items()}
    faults = tuple(each for each in read.values() if isinstance(each, RuleFault))
    if faults:
        return RulesWrong(faults=faults)
    return RuleFiles(published={what: read[what] for what in FILES}, units=read.get(UNITS))


def _read(path: Path) -> Any:  # noqa: ANN401  # whatever the file holds
    try:
        if path.stat().st_size > LARGEST:
            return RuleFault(file=path.name, path="", why=_TOO_LARGE)
        content = path.read_bytes()
    except OSError as error:
        return RuleFault(file=path.name, path="", why=f"cannot be read: {error.strerror}")
    return read_document(content, path.name)


def read_document(content: bytes, file: str) -> Any:  # noqa: ANN401  # whatever it holds
    """One document as it is handed in, or why it cannot be read; whether it may count is another question."""
    try:
        return json.loads(
            content.decode("utf-8"),
            object_pairs_hook=_once,
            parse_float=_no_fraction,
            parse_constant=_no_fraction,
        )
    except UnicodeDecodeError:
        return RuleFault(file=file, path="", why="is not written in UTF-8")
    except json.JSONDecodeError as error:
        return RuleFault(file=file, path=f"line {error.lineno}", why=f"is no JSON: {error.msg}")
    except RecursionError:
        return RuleFault(file=file, path="", why="is nested too deeply")
    except ValueError as error:
        # Ours, and a whole number of thousands of digits.
        why = str(error) if isinstance(error, _NotStrictError) else "holds a number that is too long"
        return RuleFault(file=file, path="", why=why)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Of two values under one key the library would silently take the last."""
    read = dict(pairs)
    if len(read) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise _NotStrictError(f"the key {json.dumps(twice, ensure_ascii=False)} stands twice in one object")
    return read


def _no_fraction(text: str) -> NoReturn:
    """A fraction would be read as a binary one; a quantity is text with its unit."""
    raise _NotStrictError(f'{text} is no whole number: write a quantity as text, such as "0.5 mg"')
