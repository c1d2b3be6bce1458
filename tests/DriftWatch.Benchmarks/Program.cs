using DriftWatch.Benchmarks.Storage;

if (args is ["storage"])
{
    StorageFigures.Run(Console.Out);
    return 0;
}

Console.Error.WriteLine("Name what to measure: storage");
return 2;
