"""Functions of transformers, capacitors, conductors and power."""
