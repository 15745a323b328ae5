"""The main job: a schedule of drives, a plant and a standard give currents, voltages and a verdict."""
