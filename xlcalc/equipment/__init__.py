"""What harmonics do to the equipment of a plant: heating, loading, stress, power and added energy."""
