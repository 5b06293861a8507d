"""Many visits: tables, logs of data loggers, and what a fleet of machines adds up to."""
