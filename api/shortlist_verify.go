package api

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"sync"

	"github.com/go-json-experiment/json/jsontext"

	"sabinbook/internal/ranking"
	"sabinbook/openapi"
)

// maxDocument is the length of the longest document that is read.
const maxDocument = 8 << 20

// mostDifferences is how many differences a verdict lists.
const mostDifferences = 100

// The verdicts on a document.
const (
	VerdictEqual   = "equal"
	VerdictDiffers = "differs"
)

// publishedContract is the contract for those who have no server, read once.
var publishedContract = sync.OnceValues(func() (*contract, error) { return loadContract(openapi.Document) })

// UnreadableError says that a file is no document of a shortlist, and everything that is wrong with it.
type UnreadableError struct{ Faults []string }

func (e *UnreadableError) Error() string {
	return "this is no document of a shortlist: " + strings.Join(e.Faults, "; ")
}

// Verify works the answer of a document out again, from the question and the records in the file
// alone, and compares it and the digest with what the file says. It needs no store. The error is an
// *UnreadableError when the file is not such a document.
func Verify(file []byte) (ShortlistVerdict, error) {
	c, err := publishedContract()
	if err != nil {
		return ShortlistVerdict{}, err
	}
	verdict, err := c.verify(file)
	return verdict, asUnreadable(err)
}

// asUnreadable is an error about a document for those who sent no request.
func asUnreadable(err error) error {
	faults, ok := asFaults(err)
	if !ok {
		return err
	}
	out := &UnreadableError{}
	for _, f := range faults {
		out.Faults = append(out.Faults, strings.TrimSpace(f.pointer+" "+f.detail))
	}
	return out
}

// verify is Verify with the errors of requests.
func (c *contract) verify(file []byte) (ShortlistVerdict, error) {
	d, members, err := c.readDocument(file)
	if err != nil {
		return ShortlistVerdict{}, err
	}
	digest, err := digestOf(members)
	if err != nil {
		return ShortlistVerdict{}, err
	}
	list, err := recomputed(d.Question, d.Catalog, d.Answer)
	if err != nil {
		return ShortlistVerdict{}, err
	}
	if d.Answer.ModelVersion != d.ModelVersion {
		more, err := differencesBetween("/answer/model_version", d.Answer.ModelVersion, d.ModelVersion)
		if err != nil {
			return ShortlistVerdict{}, err
		}
		list = append(list, more...)
	}
	inOrder := jsontext.Value(append([]byte{}, file...))
	if err := inOrder.Canonicalize(); err != nil {
		return ShortlistVerdict{}, err
	}
	v := ShortlistVerdict{Verdict: VerdictEqual, DigestStated: d.Digest, DigestComputed: digest, DigestEqual: d.Digest == digest, AnswerEqual: len(list) == 0,
		Canonical: string(inOrder) == string(file), ModelStated: d.ModelVersion, ModelComputed: ranking.ModelVersion,
		DifferencesCount: int64(len(list)), Differences: append([]ValueDifference{}, list[:min(len(list), mostDifferences)]...), NotProved: notProved()}
	if !v.DigestEqual || !v.AnswerEqual {
		v.Verdict = VerdictDiffers
	}
	v.Text = verdictWords(v)
	return v, nil
}

// verdictWords says a verdict in one paragraph.
func verdictWords(v ShortlistVerdict) string {
	var say []string
	switch {
	case v.DigestEqual && v.AnswerEqual:
		say = append(say, "Equal: the digest fits, and every figure of the answer follows from the question and the records in the document.")
	case v.DigestEqual:
		say = append(say, "Differs: the digest fits, but the answer does not follow from the question and the records in the document.")
	case v.AnswerEqual:
		say = append(say, "Differs: something was changed after the document was written, because the digest does not fit; the answer still follows from the question and the records in it.")
	default:
		say = append(say, "Differs: the digest does not fit, and the answer does not follow from the question and the records in the document.")
	}
	if n := v.DifferencesCount; n > 0 {
		say = append(say, fmt.Sprintf("Values that differ: %d, the first at %s.", n, v.Differences[0].Pointer))
	}
	if v.ModelStated != v.ModelComputed {
		word := "it gives the same figures"
		if !v.AnswerEqual {
			word = "that may explain differences of the answer; a program of that version tells"
		}
		say = append(say, fmt.Sprintf("The answer was worked out by model version %s and verified by version %s: %s.", v.ModelStated, v.ModelComputed, word))
	}
	if !v.Canonical {
		say = append(say, "The file is not written as the document was, in white space, order of members or spelling of numbers; that changes no value.")
	}
	return strings.Join(say, " ")
}

// notProved lists what rests on nothing else in a document.
func notProved() []Note {
	return []Note{
		{Code: "about", Text: "Title, note, status, times and names are what the record said when the document was written."},
		{Code: "option_notes", Text: "Notes about options are free words."},
		{Code: "kept_from", Text: "How many other candidates there were and where the options stood among them: those are not in the document."},
		{Code: "program_version", Text: "Which program wrote the document."},
		{Code: "catalog", Text: "That the records are those of a real catalog, and their sources say what is cited. The digest only shows that nobody changed them without making a new one."},
	}
}

// VerifyShortlist answers POST /v1/shortlists/verify.
func (s *Server) VerifyShortlist(ctx context.Context, _ VerifyShortlistRequestObject) (VerifyShortlistResponseObject, error) {
	done, err := s.slot(ctx)
	if err != nil {
		return nil, err
	}
	defer done()
	verdict, err := s.contract.verify(callOf(ctx).text)
	if err != nil {
		return nil, err
	}
	return VerifyShortlist200JSONResponse{ShortlistVerdictAnswerJSONResponse{Body: verdict}}, nil
}

// longestBody reads what the contract says under x-longest-body: the length of the longest body of
// an operation, maxBody when it says nothing.
func longestBody(extension any) int64 {
	text, err := json.Marshal(extension)
	longest := int64(maxBody)
	if err != nil || json.Unmarshal(text, &longest) != nil || longest == 0 {
		return maxBody
	}
	return longest
}
