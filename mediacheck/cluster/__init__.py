"""Work of many files on more than one machine, through a running Dask cluster.

It must not know what the work is; only `workers` needs the package of the extra `mediacheck[cluster]`.
"""
