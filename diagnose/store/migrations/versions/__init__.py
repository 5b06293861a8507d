"""One file a schema, each made from the one before it; none is ever changed once it was published."""
