package api

import (
	"context"

	"sabinbook/internal/catalog"
)

func encodeComment(c catalog.Comment) Comment {
	return Comment{ID: place(string(c.ID)), Text: c.Text, CreateTime: place(timeText(c.Created)), CreatedBy: place(c.CreatedBy)}
}

func encodeVote(b catalog.Vote) Vote {
	return Vote{Key: known(b.Key), Note: known(b.Note), Member: place(b.Member), VoteTime: place(timeText(b.Voted))}
}

// ListComments answers GET /v1/shortlists/{id}/comments.
func (s *Server) ListComments(ctx context.Context, in ListCommentsRequestObject) (ListCommentsResponseObject, error) {
	l, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	p, err := pageOf(ctx, func(ctx context.Context, q catalog.Query) (catalog.Page[catalog.Comment], error) {
		return s.store.Comments(ctx, askerOf(ctx), string(l.ID), q)
	}, encodeComment)
	return ListComments200JSONResponse{CommentPageJSONResponse{CommentList{Items: p.items, Next: p.next, TotalCount: p.total}, CommentPageResponseHeaders{Link: p.link}}}, err
}

// CreateComment answers POST /v1/shortlists/{id}/comments.
func (s *Server) CreateComment(ctx context.Context, in CreateCommentRequestObject) (CreateCommentResponseObject, error) {
	l, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	c := catalog.Comment{Text: in.Body.Text}
	if err := c.Validate(); err != nil {
		return nil, err
	}
	c, err = s.store.AddComment(ctx, memberOf(ctx), string(l.ID), c)
	return CreateComment201JSONResponse{CommentCreatedJSONResponse(encodeComment(c))}, err
}

// DeleteComment answers DELETE /v1/shortlists/{id}/comments/{comment}.
func (s *Server) DeleteComment(ctx context.Context, in DeleteCommentRequestObject) (DeleteCommentResponseObject, error) {
	l, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	if !catalog.NounComment.Is(in.Comment) {
		return nil, catalog.ErrNotFound
	}
	c, err := s.store.Comment(ctx, askerOf(ctx), string(l.ID), in.Comment)
	if err != nil {
		return nil, err
	}
	if err := own(ctx, catalog.Meta{CreatedBy: c.CreatedBy}); err != nil {
		return nil, err
	}
	return DeleteComment204Response{}, s.store.DeleteComment(ctx, memberOf(ctx), string(l.ID), in.Comment)
}

// PutVote answers PUT /v1/shortlists/{id}/vote.
func (s *Server) PutVote(ctx context.Context, in PutVoteRequestObject) (PutVoteResponseObject, error) {
	l, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	b := catalog.Vote{Key: orZero(in.Body.Key), Note: orZero(in.Body.Note)}
	if err := b.Validate(); err != nil {
		return nil, err
	}
	b, err = s.store.PutVote(ctx, memberOf(ctx), string(l.ID), b)
	return PutVote200JSONResponse{VoteItemJSONResponse(encodeVote(b))}, err
}

// WithdrawVote answers DELETE /v1/shortlists/{id}/vote.
func (s *Server) WithdrawVote(ctx context.Context, in WithdrawVoteRequestObject) (WithdrawVoteResponseObject, error) {
	l, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	return WithdrawVote204Response{}, s.store.WithdrawVote(ctx, memberOf(ctx), string(l.ID))
}

// ListVotes answers GET /v1/shortlists/{id}/votes.
func (s *Server) ListVotes(ctx context.Context, in ListVotesRequestObject) (ListVotesResponseObject, error) {
	seen, err := s.seenShortlist(ctx, in.ID)
	if err != nil {
		return nil, err
	}
	l, votes, err := s.store.Votes(ctx, askerOf(ctx), string(seen.ID))
	if err != nil {
		return nil, err
	}
	count := map[string]int64{}
	out := VoteCount{Options: make([]OptionVotes, len(l.Options)), Votes: make([]Vote, len(votes))}
	for i, b := range votes {
		count[b.Key]++
		out.Votes[i] = encodeVote(b)
	}
	out.NoneCount = count[""]
	for i, o := range l.Options {
		out.Options[i] = OptionVotes{Key: o.Key, VotesCount: count[o.Key]}
	}
	return ListVotes200JSONResponse{VoteCountJSONResponse{Body: out}}, nil
}
