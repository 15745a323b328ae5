"""What a recording of voltage and current says about a supply and a drive: least squares with the engine."""
