// Real processes share two cores, ports and a browser: one test at a time keeps each from being another's nuisance.
[assembly: CollectionBehavior(DisableTestParallelization = true)]
