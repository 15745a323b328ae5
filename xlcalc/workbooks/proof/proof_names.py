"""Names and sheets of the field proof."""

from __future__ import annotations

from typing import Final

FILE_NAME: Final = "field_proof.xlsx"
PROOF: Final = "Proof"
PERCENTILES: Final = "Percentiles"
BESIDE: Final = "Beside prediction"
MAP: Final = "Orders over time"
VALUES: Final = "Values"
TREND: Final = "Trend"
INPUTS: Final = "proof_inputs"
VALUE_INPUTS: Final = "proof_values"
DAY_INPUTS: Final = "proof_days"
DAY_WORDS: Final = "proof_day_words"
VALUE_DOUBT: Final = "proof_value_doubt"
DAY_DOUBT: Final = "proof_day_doubt"
IL: Final = "proof_il"
ISC_IL: Final = "proof_isc_il"
KV: Final = "proof_kv"
EDITION: Final = "proof_edition"
BASE: Final = "proof_base"
FIELD_NAMES: Final = {
    "demand amps": IL,
    "isc/il": ISC_IL,
    "nominal kv": KV,
    "edition": EDITION,
    "base amps": BASE,
}
SCALE: Final = f'IF({BASE}="",1,{BASE}/{IL})'
"""From percent of the base to percent of IL."""
