"""Compare what is stored with what the log says was stored: each row has its entry and says the same."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from app.auditing.recomputing import Stored
from app.auditing.verifying_installation import installation_faults
from app.judging.identifiers import compared_identifier
from app.keys import read_public_file
from app.people import folded
from app.records.beds import place_then
from app.records.canonical import digest
from app.records.events import CheckOpened, UnitNamed
from app.records.kept import Entry, KeptFollowed
from app.records.kept_keys import IssuedCode
from app.records.kept_orders import KeptOrder
from app.records.names import names_in_log
from app.records.site_events import AccountStands
from app.records.store_verification import Failing
from app.records.told_rows import OF_A_CHECK, OF_THE_SITE, Told, told_by
from app.site.approving import OF_APPROVALS, unapproved
from app.site.codes import is_own_code
from app.site.installation import Site
from app.storage import Reader

Row = Mapping[str, Any]
_OTHER = "it is not what the log says"
_GONE = "a row of which the log tells is not there"
_UNTOLD = "a row of which the log tells nothing"
_RENAMED = ("unit", "number")


def failing_rows_of_site(site: Site, reader: Reader, told: Sequence[Told]) -> Iterator[Failing]:
    """What does not hold of the rows that belong to no check."""
    for table, key in OF_THE_SITE.items():
        rows = tuple(reader.rows(table))
        yield from _compared(table, key, rows, [each for each in told if each.table == table])
    yield from _people_called_otherwise(reader)
    yield from _units_called_otherwise(reader)
    yield from _accounts(reader)
    yield from _compared_otherwise(reader)
    yield from _unlike_themselves(site, reader)
    yield from _unapproved(reader)
    yield from _orders(reader)
    yield from _of_nothing(reader)
    yield from (Failing(about="log_entry", what=what) for what in installation_faults(site, reader))


def _people_called_otherwise(reader: Reader) -> Iterator[Failing]:
    """People whose names are not those that the log said last."""
    log, head = names_in_log(reader.naming_entries()), reader.head()
    rows = {row["id"]: row for row in reader.rows("person")}
    for who in log.people:
        row, told = rows.get(who), vars(log.find_person(who, head))
        if row is None:
            yield Failing(about="person", what=_GONE)
            continue
        for name in told.keys() & row.keys():
            if row[name] != told[name]:
                yield Failing(about=f"person.{name}", what=_OTHER)


def _units_called_otherwise(reader: Reader) -> Iterator[Failing]:
    """Units of which the log told nothing, or whose first name, or a later one, is not what it said."""
    said: dict[str, list[Entry]] = {}
    for entry in reader.naming_entries():
        if isinstance(entry.event, UnitNamed):
            said.setdefault(entry.event.unit, []).append(entry)
    rows = {row["id"]: row for row in reader.rows("unit")}
    told = []
    for unit, entries in said.items():
        first, *later = (_unit_named(number, entry) for number, entry in enumerate(entries))
        if unit not in rows:
            yield Failing(about="unit", what=_GONE)
        elif rows[unit]["name"] != first["name"]:
            yield Failing(about="unit.name", what=_OTHER)
        told += [Told(table="unit_renamed", key=_RENAMED, row=each) for each in later]
    yield from (Failing(about="unit", what=_UNTOLD) for unit in rows if unit not in said)
    yield from _compared("unit_renamed", _RENAMED, reader.rows("unit_renamed"), told)


def _unit_named(number: int, entry: Entry) -> dict[str, Any]:
    assert isinstance(entry.event, UnitNamed)  # noqa: S101  # the caller's word
    return {"unit": entry.event.unit, "number": number, "name": entry.event.name, "named_at": entry.at}


def _accounts(reader: Reader) -> Iterator[Failing]:
    """Accounts that are not as the last act on them left them, those without such an act included."""
    said = {
        each.event.person: each.event.digest
        for each in reader.entries_of_kind(AccountStands.kind)
        if isinstance(each.event, AccountStands)
    }
    found = reader.accounts_standing()
    for person in sorted({*said, *found}):
        if person not in found:
            yield Failing(about="person", what=_GONE)
        elif said.get(person) != found[person]:
            what = "an account, its roles or its locked key is not as the last act on it left it"
            yield Failing(about="person", what=what)
    yield from _of_nobody(reader, found)


def _of_nobody(reader: Reader, people: Collection[str]) -> Iterator[Failing]:
    """Parts of an account without the account."""
    keys = {row["kid"] for row in reader.rows("personal_key")}
    for row in reader.rows("person_role"):
        if row["person"] not in people:
            yield Failing(about="person_role", what="a role of somebody who has no account")
    for row in reader.rows("personal_key_sealed"):
        if row["kid"] not in keys:
            yield Failing(about="personal_key_sealed", what="a locked half of a key that nobody made")


def _compared_otherwise(reader: Reader) -> Iterator[Failing]:
    """People and units whose login, staff number or name is compared as something else than what it is."""
    named = ("unit", "unit_renamed", "order_sender")
    compared: dict[str, tuple[str, ...]] = {
        "person": ("login", "staff_number"),
        **dict.fromkeys(named, ("name",)),
    }
    for table, names in compared.items():
        for row in reader.rows(table):
            for name in names:
                if row[f"{name}_folded"] != folded(row[name]):
                    yield Failing(about=f"{table}.{name}_folded", what="it is not the folded one")


def _unlike_themselves(site: Site, reader: Reader) -> Iterator[Failing]:
    """Rows whose columns do not belong together."""
    kept = (("site_data", "published"), ("rule_proposal", "proposed"), ("competency_file", "issued"))
    for table, was in kept:
        for row in reader.rows(table):
            if digest(row["content"]) != row["digest"]:
                yield Failing(about=f"{table}.content", what=f"it is not what was {was}")
    for row in reader.rows("site_key"):
        if [each.made_at for each in read_public_file(row["certificate"])] != [row["made_at"]]:
            yield Failing(about="site_key.made_at", what="it is not what the certificate says")
    for row in reader.rows("issued_code"):
        if not is_own_code(site, IssuedCode(**row)):
            yield Failing(about="issued_code", what="this installation did not give such a code")


def _unapproved(reader: Reader) -> Iterator[Failing]:
    """Versions of the site's rules that no two people brought into force."""
    its = (entry for event in OF_APPROVALS for entry in reader.entries_of_kind(event.kind))
    entries = sorted(its, key=lambda entry: entry.position)
    versions = ((row["what"], row["version"]) for row in reader.rows("site_data"))
    for each in unapproved(entries, versions):
        yield Failing(about="site_data", what=f"{each.what}, version {each.version}: {each.why}")


def _orders(reader: Reader) -> Iterator[Failing]:
    """Orders from other systems whose columns do not belong together."""
    for row in reader.rows("order_message"):
        if not _is_as_read(KeptOrder(**row)):
            yield Failing(
                about="order_message.message", what="it is not what came, or not what was read of it"
            )


def _is_as_read(kept: KeptOrder) -> bool:
    """Whether a message, what was read of it, and what it is found by belong together."""
    if kept.own_digest != kept.digest or digest(kept.message) != kept.message_digest:
        return False
    read = kept.as_read
    return (kept.order_named, kept.patient) == (read.order, compared_identifier(read.patient))


def _of_nothing(reader: Reader) -> Iterator[Failing]:
    """Rows of a check or an infusion of which the log does not tell."""
    for table in (*OF_A_CHECK, "finding", "ended_check", "join_code", "access"):
        column = "id" if table == "check" else "check"
        for check in reader.never_opened(table, column, "check"):
            yield Failing(check=check, about=f"{table}.{column}", what="the log knows no such check")
    for _ in reader.never_opened("infusion", "id", "infusion"):
        yield Failing(about="infusion.id", what="the log knows no such infusion")
    if reader.never_kept():
        yield Failing(about="infusion.id", what="the log tells of one that is not there")


def failing_rows_of_check(reader: Reader, stored: Stored) -> Iterator[Failing]:
    """What does not hold of the rows of one check."""
    check = stored.loaded.state.check
    found = {
        "check": (check,),
        "participant": stored.participants,
        "reading": stored.readings,
        "comparison": stored.loaded.comparisons,
        "frozen": stored.frozen,
        "signature": stored.signatures,
        "pdf": tuple(each for each in stored.pdfs.values() if each),
        "what_followed": stored.followed,
        "help_taker": stored.helpers,
        "finding_review": reader.finding_reviews(check.id),
        "finding_classified": reader.classifications(check.id),
    }
    told = [each for each in map(told_by, stored.entries) if each is not None]
    for table, key in OF_A_CHECK.items():
        rows = [_row(each) for each in found[table]]
        of_table = [each for each in told if each.table == table]
        yield from _compared(table, key, rows, of_table, check=check.id)
    yield from _place(reader, stored)


def _row(kept: object) -> Row:
    """Its columns; of a signature's JWS, and of what followed a record, the log has the digest."""
    row = vars(kept)
    if isinstance(kept, KeptFollowed):
        return {**row, "document": digest(kept.document)}
    return {**row, "jws": digest(row["jws"].encode())} if row.get("jws") else row


def _compared(
    table: str, key: Sequence[str], rows: Iterable[Row], told: Iterable[Told], *, check: str = ""
) -> Iterator[Failing]:
    """Each row beside what the log says of it; rows and entries that found no partner beside each other."""
    left = {tuple(row[name] for name in key): row for row in rows}
    untold: list[Told] = []
    for each in told:
        row = left.pop(each.place, None)
        if row is None:
            untold.append(each)
        else:
            yield from _columns(row, each, check)
    for row, missing in zip_longest(left.values(), untold):
        if missing is None:
            yield Failing(check=check, about=table, what="a row of which the log does not tell")
        elif row is None:
            yield Failing(check=check, about=table, what=_GONE)
        else:
            yield from _columns(row, missing, check)


def _columns(row: Row, told: Told, check: str) -> Iterator[Failing]:
    for name, value in told.row.items():
        if row[name] != value:
            yield Failing(check=check, about=f"{told.table}.{name}", what=_OTHER)


def _place(reader: Reader, stored: Stored) -> Iterator[Failing]:
    """Infusion and unit: neither has an entry of its own, each is told of by those of its checks."""
    check = stored.loaded.state.check
    infusion, unit = reader.find_infusion(check.infusion), reader.find_unit(check.unit)
    if infusion is None or unit is None:
        about = "infusion.id" if infusion is None else "unit.id"
        yield Failing(check=check.id, about=about, what="the row of which the check tells is not there")
        return
    opened = next(each.position for each in stored.entries if isinstance(each.event, CheckOpened))
    then = place_then((infusion.unit, infusion.bed), reader.course(infusion.id), opened)
    found = dict(zip(("unit", "bed"), then, strict=True)) | {"opened_at": infusion.opened_at}
    told = {"unit": check.unit, "bed": check.bed, "opened_at": reader.began_at(infusion.id)}
    for name, value in told.items():
        if found[name] != value:
            yield Failing(check=check.id, about=f"infusion.{name}", what=_OTHER)
