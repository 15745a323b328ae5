"""The package as an archive: opened with nothing trusted, its parts read, and copied member by member."""
