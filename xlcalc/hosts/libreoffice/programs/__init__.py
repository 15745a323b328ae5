"""LibreOffice as a program without a window: found, run, and let compute or convert workbooks."""
