"""The service's own processes on one machine: web, worker, beat and a private Redis.

The console stays calm: children write to `var/log/`, and only what a person should know is said. A child
that dies is started again, ever more slowly. ^C, SIGTERM and a closed terminal stop the children one by
one in the reverse of their starting order. When this process itself is killed, a guard that it cannot take
with it stops them: no orphan keeps the port or the database.
"""
