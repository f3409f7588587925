"""An order sheet on a terminal: the same as in a file, but no wider than the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strikeline.cli.fitted_rows import fitted
from strikeline.reports.order_sheet import Rows, order_text

if TYPE_CHECKING:
    from strikeline.workshop.order_sheet import OrderSheet

_INSET: Final = "  "
_LEAST_FIRST: Final = ("dead bottom", "dead top", "bare bottom", "bare top", "outside", "end", "mass g", "wound")
_ELSEWHERE: Final = "a wider terminal or --order-to has them"


def order_table(sheet: OrderSheet, *, width: int | None) -> str:
    """Return an order sheet as text.

    Parameters
    ----------
    sheet : OrderSheet
        The order.
    width : int or None
        Columns of the terminal; ``None`` leaves nothing out.
    """
    if width is None:
        return order_text(sheet).rstrip("\n")

    def table(rows: Rows) -> list[str]:
        lines = fitted(rows, width - len(_INSET), least_first=_LEAST_FIRST, elsewhere=_ELSEWHERE)
        return [f"{_INSET}{line}" for text in lines for line in text.splitlines()]

    return order_text(sheet, width=width, table=table).rstrip("\n")
