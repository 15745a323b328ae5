"""Files of users: lists, plants and recordings in, results out."""
