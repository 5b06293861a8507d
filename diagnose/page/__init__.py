"""The phone page: static files that hold the package itself, so that a browser without a signal answers as the desk does."""
