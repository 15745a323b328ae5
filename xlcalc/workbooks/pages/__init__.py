"""The pages for the customer, and whether they are unaltered."""
