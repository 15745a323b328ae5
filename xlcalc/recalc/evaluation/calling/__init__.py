"""What the engine calls back: functions of ours, of the library, and of addresses."""
