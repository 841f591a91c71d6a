"""Whether a one-time code is this installation's own."""

from app.keys import is_attested
from app.records.kept_keys import IssuedCode
from app.records.key_statements import code_facts
from app.site.installation import Site

CODE = "one-time code"


def is_own_code(site: Site, code: IssuedCode) -> bool:
    """Whether this installation gave this code, to this person, from this issuer."""
    return is_attested(site.key, CODE, code_facts(code), code.attestation)
