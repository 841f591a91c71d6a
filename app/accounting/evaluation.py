"""The engine of the account: a case -> its result."""

from app.accounting.account import account_of
from app.accounting.case import AccountCase
from app.accounting.device_findings import device_findings
from app.accounting.findings import place_of
from app.accounting.forecast import forecast_of
from app.accounting.places import infusion_account, syringe_accounts
from app.accounting.result import BalanceResult
from app.accounting.syringe_findings import syringe_findings
from app.comparison import Severity, Verdict


def balance(case: AccountCase) -> BalanceResult:
    """Where each mL went, whether the totals can be right, and how long the syringe lasts."""
    account = account_of(case)
    syringes = syringe_accounts(account)
    infusion = infusion_account(account, syringes)
    forecast = forecast_of(account)
    found = (*device_findings(account), *syringe_findings(account, syringes, infusion, forecast))
    order_of_issue = {syringe.key: place for place, syringe in enumerate(syringes)}
    findings = tuple(sorted(found, key=lambda finding: place_of(finding, order_of_issue)))
    severities = {finding.severity for finding in findings}
    verdict = Verdict.AGREED
    if Severity.STOP in severities:
        verdict = Verdict.STOPPED
    elif Severity.CAUTION in severities:
        verdict = Verdict.CAUTIONED
    return BalanceResult(
        verdict=verdict,
        findings=findings,
        account=account,
        syringes=syringes,
        infusion=infusion,
        forecast=forecast,
    )
