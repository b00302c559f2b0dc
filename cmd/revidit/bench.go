package main

// benchCommand holds the measurements that anybody can repeat. Each of them ends with one line of figures for a program
// to read.
type benchCommand struct {
	Assess      benchAssess      `cmd:"" help:"Measure on this machine how fast assessments and estimates of reliability are."`
	Calibration benchCalibration `cmd:"" help:"Try the service on made-up clubs and measure how far its numbers can be believed."`
	Pages       benchPages       `cmd:"" help:"Measure whether pages and acts take longer in a large collection, on both databases."`
	Key         benchKey         `cmd:"" help:"Make the key of a region and have a beginner and an expert try it, beside one that asks whatever tells most at once."`
	Audit       benchAudit       `cmd:"" help:"Measure how long the first pages of an audit take in a large collection, besides their statements, on both databases."`
	Backup      benchBackup      `cmd:"" help:"Measure how long a backup takes beside tar of the same bytes, on both databases."`
	Verify      benchVerify      `cmd:"" help:"Measure how long verifying an export takes beside sha256sum of the same bytes."`
	Records     benchRecords     `cmd:"" help:"Hold records with one mistake against what anybody could make of them in a world where the tables are true."`
	Reassess    benchReassess    `cmd:"" help:"Measure how long it takes to tell what other tables would do to all that is settled, beside PostgreSQL's COPY of the same rows."`
	Export      benchExport      `cmd:"" help:"Measure how fast a Darwin Core archive is written, beside PostgreSQL's COPY of the same rows."`
	Photo       benchPhoto       `cmd:"" help:"Measure how fast a photo is read and made into its copies, beside vipsthumbnail, and the memory that it takes (Linux)."`
	Inventory   benchInventory   `cmd:"" aliases:"collection" help:"Measure how fast the table of an old collection is planned and taken in, beside its cells put into a table as they are."`
	Logins      benchLogins      `cmd:"" help:"Measure how long the queue page takes while somebody guesses passwords, beside how long it takes alone."`
	Uploads     benchUploads     `cmd:"" help:"Measure memory and time of hostile uploads, and of an honest one beside them."`
}
