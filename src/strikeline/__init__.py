"""strikeline: note-by-note evidence on the condition of an acoustic piano, from one recorded pass up the keyboard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from strikeline.acoustics.listening import Listening as Listening
    from strikeline.bootstrap import listen as listen

__all__ = ["Listening", "__version__", "listen"]


def __getattr__(name: str) -> Any:
    # Heavy parts load on first use, so that `strikeline --help` starts at once.
    if name == "listen":
        from strikeline.bootstrap import listen

        return listen
    if name == "Listening":
        from strikeline.acoustics.listening import Listening

        return Listening
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
