"""What every room uses: errors, checks of numbers, spectra, long work."""
