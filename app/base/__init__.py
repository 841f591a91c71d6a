"""What every package may lean on: who acts, when, and with which fresh ids."""

from app.base.acting import Act, Actor, Method

__all__ = ["Act", "Actor", "Method"]
