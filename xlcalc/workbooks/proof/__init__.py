"""The template field_proof: what was recorded on site, judged and held against the prediction."""
