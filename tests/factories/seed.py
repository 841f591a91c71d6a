"""The invented rules, published in an empty installation."""

from datetime import datetime

from app.config import root
from app.site.installation import Site
from app.workflow.publishing import InForce, install_rules
from app.workflow.rule_files import RuleFiles, read_rules
from tests.factories.site_keys import INSTALLATION

SEED = root() / "seed_data"


def seeded_rules() -> RuleFiles:
    """The rules that come with the program."""
    files = read_rules(SEED)
    assert isinstance(files, RuleFiles)
    return files


def install_seed(site: Site, at: datetime) -> None:
    """Fill an empty installation with them."""
    assert isinstance(install_rules(site, at, seeded_rules(), installation=INSTALLATION), InForce)
