package auth

// Scope is what a caller may do.
type Scope string

// Scopes.
const (
	Analyse Scope = "analyse" // recorded clips, comparisons, summaries, checks of a setup
	Stream  Scope = "stream"  // live practice
	Advise  Scope = "advise"  // advice to ball machines

	known  Scope = "known"  // any caller who is known
	anyone Scope = "anyone" // also strangers: probes
)

// rules is the scope of every RPC that the server answers.
var rules = map[string]Scope{
	"/courtkin.v1.SwingAnalysisService/AnalyzeClip":       Analyse,
	"/courtkin.v1.SwingAnalysisService/CompareSwings":     Analyse,
	"/courtkin.v1.SwingAnalysisService/SummarizePractice": Analyse,
	"/courtkin.v1.SwingAnalysisService/CheckSetup":        Analyse,
	"/courtkin.v1.SwingAnalysisService/StreamPractice":    Stream,
	"/courtkin.v1.SwingAnalysisService/AdviseFeed":        Advise,
	"/courtkin.v1.SwingAnalysisService/GetCatalog":        known,

	"/grpc.health.v1.Health/Check": anyone,
	"/grpc.health.v1.Health/List":  anyone,
	"/grpc.health.v1.Health/Watch": anyone,

	"/grpc.reflection.v1.ServerReflection/ServerReflectionInfo":      known,
	"/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo": known,
}

// Rule returns the scope that an RPC asks for; ok is false for one without a rule.
func Rule(method string) (s Scope, ok bool) {
	s, ok = rules[method]
	return s, ok
}
