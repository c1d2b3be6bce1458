using DriftWatch.Acquisition.PracticeRig;

namespace DriftWatch.Tests.PracticeRig;

public class RigScriptTests
{
    [Fact]
    public void Every_script_that_comes_with_the_program_can_be_read()
    {
        Assert.Equal(
            ["failing-compressor", "head-clog", "regulator-creep", "sensor-and-clock", "sound-transfer", "tape-lift", "tour"],
            RigScripts.Names.Order());
        Assert.All(RigScripts.Names, name => Assert.NotEmpty(RigScripts.Load(name).Steps));
    }

    [Fact]
    public void The_tour_shows_every_state_within_a_minute_and_begins_again()
    {
        var rig = new RigSimulation(1, RigScripts.Load(null));
        while (rig.Seconds < 60)
        {
            rig.Step();
        }

        Assert.True(rig.Locked);
        while (rig.Seconds < 599)
        {
            rig.Step();
        }

        Assert.InRange(rig.Truth(RigInput.RegulatedAirVolts), 0, 2);
        while (rig.Seconds < 660)
        {
            rig.Step();
        }

        Assert.True(rig.Locked, "the second round did not lock");
    }

    [Fact]
    public void A_fault_grows_lasts_and_goes_back()
    {
        RigFault fault = RigScriptText.Parse("s", "s", "length 100\nat 10 fault oxide-shed by 4 over 4 for 20 back 2").Faults[0];
        Assert.Equal([0, 0, 2, 4, 4, 2, 0], new[] { 9, 10, 12, 14, 29.9, 31, 32 }.Select(fault.At));
    }

    [Theory]
    [InlineData("legnth 10", "s(2): 'legnth' is no statement; write title, length")]
    [InlineData("at 5 fly", "s(2): 'fly' is nothing the operator can do; write one of: air on")]
    [InlineData("at 5 fault flood", "s(2): 'flood' is no fault; write one of: compressor-failing")]
    [InlineData("at 5 fault head-clog by 3", "s(2): a head belongs to head-clog")]
    [InlineData("at 5 fault head-clog head 5 by 3", "s(2): there is no head 5")]
    [InlineData("at 5 fault sensor-dead", "s(2): an input belongs to a sensor's fault")]
    [InlineData("at 5 fault sensor-dead input rf-head-5", "s(2): the rig has no input 'rf-head-5'; write one of: supply-air")]
    [InlineData("at 5 fault oxide-shed by", "s(2): 'by' has no value")]
    [InlineData("at 5 fault oxide-shed by much", "s(2): 'much' is no number")]
    [InlineData("at 5 splice", "s(2): 'splice' needs an amount; write 'splice by NUMBER'")]
    [InlineData("at -5 run", "s(2): '-5' lies before the beginning")]
    public void A_mistake_names_line_and_remedy(string line, string message)
    {
        var error = Assert.Throws<RigScriptException>(() => RigScriptText.Parse("s", "s", "length 100\n" + line));
        Assert.StartsWith(message, error.Message);
    }

    [Fact]
    public void A_script_without_its_length_is_refused() =>
        Assert.Contains("length", Assert.Throws<RigScriptException>(() => RigScriptText.Parse("s", "s", "at 5 run")).Message);

    [Fact]
    public void A_name_nobody_knows_is_answered_with_the_names_there_are() =>
        Assert.Contains("sound-transfer", Assert.Throws<RigScriptException>(() => RigScripts.Load("no-such-script")).Message);
}
