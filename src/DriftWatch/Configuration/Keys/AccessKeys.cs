namespace DriftWatch.Configuration.Keys;

/// <summary>Every key of an access file.</summary>
internal static class AccessKeys
{
    public static readonly TableDefinition Person = new(
        "[[person]]",
        "Somebody who may sign in with a token. `driftwatch access add` writes it; to take the token away, delete the table.",
        [
            new("name", KeyKind.Text, "The name that signs what this person does.", "\"Ida Wren\"") { Required = true, Minimum = 1, Maximum = 80 },
            new("role", KeyKind.Choice, "reader: sees everything; operator: acts as well.", "\"operator\"") { Required = true, Choices = ["reader", "operator"] },
            new("token-id", KeyKind.Text, "The part of the token that is no secret.", "\"k7f3q2m9\"") { Required = true, Minimum = 8, Maximum = 8 },
            new("token-hash", KeyKind.Text, "The token, stretched with a salt: it can't be turned back.", "\"pbkdf2-sha256$600000$…$…\"") { Required = true, Maximum = 200 },
            new("until", KeyKind.Text, "The last day (UTC) on which the token lets anybody in, year-month-day.", "\"2027-03-01\"") { Default = "until it is taken away", Minimum = 10, Maximum = 10 },
        ]);

    public static readonly TableDefinition Proxy = new(
        "[proxy]",
        "A proxy before the service that ends TLS. Its X-Forwarded-For, -Proto and -Host are believed from its addresses and from no other; whoever comes through it signs in, from this machine too.",
        [
            new("trusted", KeyKind.Texts, "Addresses, or networks as address/bits, that it connects from.", "[\"10.0.0.5\"]") { Required = true, Minimum = 1, Maximum = 20 },
            new("name-header", KeyKind.Text, "Header in which it says who somebody is, once it has made sure. It must take away what a client sends under this name.", "\"X-Signed-In\"") { Default = "people sign in with tokens", Maximum = 80 },
            new("role-header", KeyKind.Text, "Header in which it says reader or operator.", "\"X-Role\"") { Default = "everybody has `role`", Maximum = 80 },
            new("role", KeyKind.Choice, "What those may do whom it names, where it says no role.", "\"reader\"") { Choices = ["reader", "operator"], Default = "\"reader\"" },
        ]);

    public static readonly TableDefinition Session = new(
        "[session]",
        "How long a sign-in on the page holds. They live in memory: a restart ends them all.",
        [
            new("idle", KeyKind.Duration, "Without a request and without an open page.", "\"30 min\"") { Default = "30 min", Minimum = 60, Maximum = 86_400 },
            new("longest", KeyKind.Duration, "However busy.", "\"12 h\"") { Default = "12 h", Minimum = 300, Maximum = 2_592_000 },
        ]);

    public static readonly TableDefinition Root = new(
        "access file",
        "Who may see and act from the network: `driftwatch watch --access access.toml`. Readable by its owner only. People are read again within two seconds of a change, `[proxy]` at the next start.",
        [
            new("person", KeyKind.Tables, "Somebody who may sign in with a token.", "[[person]]") { Child = Person },
            new("proxy", KeyKind.Table, "A proxy before the service.", "[proxy]") { Child = Proxy },
            new("session", KeyKind.Table, "How long a sign-in holds.", "[session]") { Child = Session },
        ]);
}
