"""The account of an infusion: what people read -> where each mL went, as CONTRACT.md has it."""

from app.accounting.case import AccountCase
from app.accounting.case_reader import read_account
from app.accounting.evaluation import balance
from app.accounting.findings import AccountFinding
from app.accounting.result import BalanceResult

__all__ = ["AccountCase", "AccountFinding", "BalanceResult", "balance", "read_account"]
