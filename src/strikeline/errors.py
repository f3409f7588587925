"""The error tree: everything strikeline raises on purpose descends from `StrikelineError`.

A message names the value, its unit, the limit and the next step; the parts are kept as attributes so that a page or a
command can phrase them again.
"""

from __future__ import annotations


class StrikelineError(Exception):
    """Base of every error that strikeline raises on purpose."""


class InputError(StrikelineError, ValueError):
    """A value given by the caller is outside what the function can take.

    Parameters
    ----------
    message : str
        The whole sentence: value, unit, limit, next step.
    name, value, expected : optional
        The parts of the sentence, kept as attributes.
    """

    def __init__(
        self, message: str, *, name: str | None = None, value: object = None, expected: str | None = None
    ) -> None:
        super().__init__(message)
        self.name = name
        self.value = value
        self.expected = expected

    @classmethod
    def of(cls, name: str, value: object, expected: str, *, advice: str = "") -> InputError:
        """Build the usual sentence ``name = value, expected …; advice``.

        Parameters
        ----------
        name : str
            Name of the argument, with its unit.
        value : object
            What was given.
        expected : str
            What would have been right, to follow the word "expected".
        advice : str
            The next step, if there is one.
        """
        tail = f"; {advice}" if advice else ""
        return cls(f"{name} = {value!r}, expected {expected}{tail}", name=name, value=value, expected=expected)


class SignalError(StrikelineError):
    """A sound was read, but holds nothing that can be measured (silence, speech only, too short)."""


class NotFoundError(StrikelineError):
    """A file or record that was named does not exist."""


class ConflictError(StrikelineError):
    """Something else is kept under this identity already, or was changed by someone else in the meantime."""


class StoreError(StrikelineError):
    """Reading or writing failed outside strikeline: no permission, disk full, not a sound file."""
