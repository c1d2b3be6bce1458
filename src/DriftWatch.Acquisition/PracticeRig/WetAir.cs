namespace DriftWatch.Acquisition.PracticeRig;

/// <summary>
/// Water that the air takes up behind the dryer's sensor, from a bowl nobody drained: droplets make the regulator's seat
/// chatter, slugs of it step the pressure up or down and pass on slowly, a film grows in the venturi's throat so that the
/// vacuum falls slowly and scatters, and the bearing's gap is disturbed. Signs after common practice; sizes are
/// assumptions and differ from machine to machine. Dry, it draws nothing and changes nothing.
/// </summary>
public sealed class WetAir(TroubleParameters parameters, RigRandom random)
{
    /// <summary>A slug's step of pressure is forgotten in about this time. Assumption.</summary>
    private const double SlugSeconds = 90;

    /// <summary>Most of the throat that a film of water takes. Assumption.</summary>
    private const double GreatestFilm = 0.4;

    private double _jitter;
    private double _slug;
    private double _film;
    private double _flutter;
    private double _untilSlug;
    private bool _isWet;

    /// <summary>What the water does to the regulated pressure, psi.</summary>
    public double RegulatorPsi => _jitter + _slug;

    /// <summary>Share of the vacuum that is missing; its mean is the film, around it the throat flutters.</summary>
    public double VacuumLossShare => _film + _flutter;

    /// <summary>Whirl of the bearing, rms as a multiple of the timing noise.</summary>
    public double Whirl { get; private set; }

    /// <param name="seconds">The step.</param>
    /// <param name="jitterPsi">Jitter of the regulated pressure, psi rms: how wet the air is.</param>
    public void Step(double seconds, double jitterPsi)
    {
        if (jitterPsi <= 0 && !_isWet)
        {
            return;
        }

        _jitter += (-_jitter * seconds / parameters.JitterSeconds)
            + (jitterPsi * Math.Sqrt(2 * seconds / parameters.JitterSeconds) * random.Normal());
        _untilSlug -= seconds;
        if (_untilSlug <= 0 && jitterPsi > 0)
        {
            _untilSlug = random.Between(0.2, 1.8) * parameters.SlugGapSeconds;
            _slug += parameters.SlugPerJitter * jitterPsi * random.Normal();
        }

        _slug -= _slug * seconds / SlugSeconds;
        double film = Math.Min(GreatestFilm, parameters.FilmPerPsi * jitterPsi);
        _film += (film - _film) * seconds / parameters.FilmSeconds;
        _flutter += (-_flutter * seconds / 0.4) + (0.04 * jitterPsi * Math.Sqrt(2 * seconds / 0.4) * random.Normal());
        Whirl = parameters.WhirlPerWetPsi * jitterPsi;
        _isWet = jitterPsi > 0 || _film > 0.002 || Math.Abs(_slug) > 0.01;
        if (!_isWet)
        {
            (_jitter, _slug, _film, _flutter) = (0, 0, 0, 0);
        }
    }
}
