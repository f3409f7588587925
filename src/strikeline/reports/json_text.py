"""Results as JSON text, the same in a file, on standard output and attached to a print."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def json_text(result: Mapping[str, Any]) -> str:
    """Return a result as indented JSON without a line end; NaN and infinity are refused, for JSON has neither."""
    return json.dumps(result, ensure_ascii=False, indent=1, allow_nan=False)
