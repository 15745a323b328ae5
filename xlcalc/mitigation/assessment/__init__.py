"""The exact study of one mix, in every case and at every PCC."""
