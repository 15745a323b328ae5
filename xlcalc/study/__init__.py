"""The main job."""
