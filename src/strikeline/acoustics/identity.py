"""Which key was struck: the evidence of one strike, and names for all strikes of a pass together."""

from __future__ import annotations

from strikeline.acoustics.evidence import StrikeEvidence, gather_evidence
from strikeline.acoustics.naming import Naming, name_strikes

__all__ = ["Naming", "StrikeEvidence", "gather_evidence", "name_strikes"]
