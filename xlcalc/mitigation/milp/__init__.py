"""The integer programme: currents, values and limits of all mixes, and the search for the cheapest."""
