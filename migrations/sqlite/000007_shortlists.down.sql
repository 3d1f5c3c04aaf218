-- Takes shortlists away again.
-- Existing rows: shortlists are lost with their comments, votes and share links.

DROP TABLE share_link;

DROP TABLE shortlist_vote;

DROP TABLE shortlist_comment;

DROP TABLE shortlist_option;

DROP TABLE shortlist_old_slug;

DROP TABLE shortlist;
