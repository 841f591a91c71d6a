"""An authenticator app on somebody's phone: RFC 6238 by hand, beside the library that the program uses."""

import base64
import hashlib
import hmac
import struct
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class App:
    """It was shown a secret, in groups of four or not."""

    shown: str

    def code(self, at: datetime) -> str:
        """The six digits that it shows at a moment."""
        secret = base64.b32decode(self.shown.replace(" ", ""))
        made = hmac.new(secret, struct.pack(">Q", int(at.timestamp()) // 30), hashlib.sha1).digest()
        start = made[-1] & 15
        number = struct.unpack(">I", made[start : start + 4])[0] & 0x7FFFFFFF
        return f"{number % 10**6:06d}"
