// Real processes share two cores and a browser: one test of a run at a time keeps each from being another's nuisance. The test
// command begins two runs side by side, the pages and the rest; ports, folders and lines are each test's own.
[assembly: CollectionBehavior(DisableTestParallelization = true)]
