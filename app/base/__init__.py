"""What every package may lean on: who acts, when, and with which fresh ids."""

from app.base.acting import OPERATOR, Act, Actor, Method

__all__ = ["OPERATOR", "Act", "Actor", "Method"]
