"""The fields of users, by what they describe."""
