"""Where other systems send orders; there is no page of them, and nothing of any patient in an answer."""

from http import HTTPStatus

from flask import Blueprint, Response, abort, current_app, json, request
from werkzeug.exceptions import RequestEntityTooLarge

from app.people import Permission
from app.records.kept_orders import KeptOrder
from app.records.order_json import REFUSALS, RefusedMessage
from app.web import asking
from app.web.access import allowed, by_token
from app.web.asking import site
from app.workflow.order_senders import NoSuchSender
from app.workflow.orders_seen import see_message
from app.workflow.receiving_orders import OrderTaken, TooManyOrders, receive_with_token
from app.workflow.refusals import NotFound

views = Blueprint("orders", __name__)

_FHIR = "application/fhir+json"
_TYPES = frozenset({_FHIR, "application/json"})
_SCHEME = "bearer"


@views.post("/orders")
@by_token
def receive() -> Response:
    """Take one order; whoever its patient is, whether it came before, the answer is the same."""
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != _SCHEME or not token:
        return _let_in()
    if request.mimetype not in _TYPES:
        says = "Send JSON, as application/fhir+json."
        return _outcome(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "not-supported", says)
    try:
        message = request.get_data(cache=False)
    except RequestEntityTooLarge:
        return _outcome(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "too-long", REFUSALS["too-large"])
    match receive_with_token(
        site(), asking.now(), token=token.strip(), message=message, new_id=asking.parts().new_id
    ):
        case OrderTaken():
            return _outcome(
                HTTPStatus.ACCEPTED, "informational", "The order was taken.", severity="information"
            )
        case RefusedMessage(path=path, code=code, says=says):
            return _outcome(HTTPStatus.UNPROCESSABLE_ENTITY, "processing", says, path=path, named=code)
        case TooManyOrders(seconds=seconds):
            says = f"This sender sent too many orders at once. Wait {seconds} s."
            answer = _outcome(HTTPStatus.TOO_MANY_REQUESTS, "throttled", says)
            answer.headers["Retry-After"] = str(seconds)
            return answer
        case NoSuchSender():
            return _let_in()


@views.get("/check/<check>/order/<order>")
@allowed(Permission.READ_RECORDS)
def as_it_came(check: str, order: str) -> Response:
    """A message, byte for byte, for a pharmacist or the quality team once the check has ended."""
    match see_message(site(), asking.act(), asking.person().roles, check=check, order=order):
        case KeptOrder(message=message):
            headers = {"Content-Disposition": f'attachment; filename="order-{order[:8]}.json"'}
            return Response(message, mimetype=_FHIR, headers=headers)
        case NotFound():
            return abort(404)


def _let_in() -> Response:
    answer = _outcome(HTTPStatus.UNAUTHORIZED, "login", "Send the token of a sender that is let in.")
    answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


def _outcome(
    status: HTTPStatus, kind: str, says: str, *, severity: str = "error", path: str = "", named: str = ""
) -> Response:
    """An OperationOutcome of R4; nothing of the message is repeated in it but where the fault is."""
    details = {"text": says, **({"coding": [{"code": named}]} if named else {})}
    issue = {
        "severity": severity,
        "code": kind,
        "details": details,
        **({"expression": [path]} if path else {}),
    }
    body = json.dumps({"resourceType": "OperationOutcome", "issue": [issue]})
    return current_app.response_class(body, status=status, mimetype=_FHIR)
