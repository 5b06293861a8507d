"""Tables of visits: many at once, one machine or several."""
