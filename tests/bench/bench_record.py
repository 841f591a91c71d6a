"""What rendering and sealing a record takes beside the plain use of the same two libraries on the same pages.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_record.py`. The plain use:
tables that size their columns by their content, with collapsed borders; the garbage collector on; a seal by
the library's own signer, which loads the key for each signature and signs twice, the first time to measure.
Both make a tagged PDF/A-3a of two pages with the same record and proof attached. CPU time, plain and ours in
turn (A B A B), median of the pairs, because absolute times on a shared machine mean little. Exits with 1 when
the aim is missed.
"""

import io
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from statistics import median

import pypdf
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration

from app.config import root
from app.keys import SiteKeys, create_site_keys, load_site_keys
from app.keys.seal_signing import sign_for_seal
from app.records.canonical import canonical
from app.records.checkpoint import Place
from app.records.proofs import Tree
from app.reports import pdf
from app.reports.attachments import ConfirmedKey, LogProof, attachments_of
from app.reports.drawing import draw
from app.reports.record import record_page, render_record
from app.reports.seal import Sealer, seal_pdf
from tests.factories.site_keys import owned
from tests.reports import told
from tests.support.library_signer import library_signer

PAIRS = 9
AIM = 0.8
Make = Callable[[SiteKeys, LogProof], tuple[bytes, bytes]]

SITE = "Larkmoor General Hospital (invented)"

DOCUMENT = told.exception()
SIGNATURES = told.signed(DOCUMENT)
DIGEST = told.digest_of(DOCUMENT)
SIGNED_AT = max(each.signed_at for each in SIGNATURES)

# A log of some size: the path of an entry has a hash for each doubling.
ENTRIES = tuple(canonical({"event": "invented", "number": number}) for number in range(1000))


def proof_by(site: SiteKeys) -> LogProof:
    """The last entry and those of two keys, as they are embedded in a record; made once: the tree is kept."""
    tree, size = Tree(ENTRIES), len(ENTRIES)

    def place(position: int) -> Place:
        path = tuple(step.hex() for step in tree.inclusion(position - 1, size))
        return Place(leaf=ENTRIES[position - 1], position=position, path=path)

    keys = tuple(ConfirmedKey(made=place(each), confirmed=place(each + 1)) for each in (1, 3, 10, 20))
    checkpoint = site.sign_checkpoint(size=size, root=tree.root(size).hex(), at=SIGNED_AT)
    return LogProof(place=place(size), keys=keys, foundings=(place(5),), checkpoint=checkpoint)


def ours(site: SiteKeys, proof: LogProof) -> tuple[bytes, bytes]:
    """Unsealed and sealed, as records are made."""
    sealer = Sealer(certificate=site.seal_certificate_der, sign=lambda content: sign_for_seal(site, content))
    unsealed = render_record(DOCUMENT, digest=DIGEST, signatures=SIGNATURES, proof=proof)
    return unsealed, seal_pdf(unsealed, sealer, at=SIGNED_AT, place=SITE)


def plain_sheet() -> str:
    """The record's own sheet, with tables as they are without a word about them."""
    sheet = (root() / "templates" / "reports" / "record.css").read_text(encoding="utf-8")
    quick = "  table-layout: fixed;\n  border-collapse: separate;\n  border-spacing: 0;\n"
    if quick not in sheet:
        raise LookupError("the sheet no longer says how tables are laid out")
    return sheet.replace(quick, "  border-collapse: collapse;\n")


def plain(site: SiteKeys, proof: LogProof) -> tuple[bytes, bytes]:
    """The same pages and attachments by the plain use of both libraries."""
    page = record_page(DOCUMENT, digest=DIGEST, signatures=SIGNATURES)
    fonts, fetcher = FontConfiguration(), pdf._BundledFonts()  # noqa: SLF001  # the same two fonts
    attached = attachments_of(canonical(DOCUMENT), signatures={}, proof=proof, renderer=b"{}", at=SIGNED_AT)
    unsealed = HTML(string=page, url_fetcher=fetcher).write_pdf(
        stylesheets=[
            CSS(string=sheet, url_fetcher=fetcher, font_config=fonts)
            for sheet in (plain_sheet(), "@page { size: A4 }")
        ],
        font_config=fonts,
        pdf_variant="pdf/a-3a",
        attachments=[
            Attachment(string=each.content, name=each.name, created=each.at, modified=each.at)
            for each in attached
        ],
    )
    metadata = signers.PdfSignatureMetadata(
        field_name="Seal",
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
        subfilter=fields.SigSeedSubFilter.PADES,
    )
    writer = IncrementalPdfFileWriter(io.BytesIO(unsealed))
    sealed = signers.sign_pdf(writer, metadata, signer=library_signer(site))
    return unsealed, sealed.getvalue()


def seconds(make: Make, site: SiteKeys, proof: LogProof) -> float:
    """CPU time of making one record, its picture drawn anew as for any other record."""
    draw.cache_clear()
    begun = time.process_time()
    make(site, proof)
    return time.process_time() - begun


def main() -> int:
    """Measure, print side by side, and say whether the aim is kept."""
    warnings.filterwarnings("ignore", "unclosed file .*sRGB2014", ResourceWarning)
    with tempfile.TemporaryDirectory() as folder:
        create_site_keys(Path(folder), SIGNED_AT - timedelta(days=1), owner=owned(SITE))
        site = load_site_keys(Path(folder), SIGNED_AT)
        proof = proof_by(site)
        for name, make in (("plain", plain), ("ours", ours)):
            # The first use of each also loads what the libraries load late.
            unsealed, sealed = make(site, proof)
            pages = len(pypdf.PdfReader(io.BytesIO(unsealed)).pages)
            print(f"{name:<6} {pages} pages, {len(unsealed):>7,} bytes, sealed {len(sealed):>7,}")
        pairs = [(seconds(plain, site, proof), seconds(ours, site, proof)) for _ in range(PAIRS)]
    ratio = median(mine / other for other, mine in pairs)
    print(f"plain  {median(other for other, _ in pairs) * 1000:7.0f} ms")
    print(f"ours   {median(mine for _, mine in pairs) * 1000:7.0f} ms")
    print(f"ratio  {ratio:7.2f}    aim: at most {AIM}    ({PAIRS} pairs)")
    return 0 if ratio <= AIM else 1


if __name__ == "__main__":
    sys.exit(main())
