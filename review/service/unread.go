package service

import "slices"

// unreadRecords are those that a walk had to leave out. One row that cannot be read keeps nobody from the figures, but it
// is told: to whoever keeps the service in the log, once, and wherever the result is read.
type unreadRecords struct {
	streams []string
	tell    func(stream string)
}

// mostUnread bounds what is named; where more cannot be read, the rest is no different.
const mostUnread = 1000

func (s *Service) unread() *unreadRecords {
	return &unreadRecords{tell: func(stream string) {
		s.tellUnread("a record cannot be read and is left out of figures, previews and jobs; revidit rebuild mends it", stream)
	}}
}

// tellUnread says in the log of each record, once, that it cannot be read.
func (s *Service) tellUnread(words string, records ...string) {
	for _, record := range records {
		if _, told := s.toldUnread.LoadOrStore(record, true); !told {
			s.log.Error(words, "record", record)
		}
	}
}

// add takes in the stream of a record, once.
func (u *unreadRecords) add(stream string) {
	if slices.Contains(u.streams, stream) || len(u.streams) == mostUnread {
		return
	}
	u.tell(stream)
	u.streams = append(u.streams, stream)
}
