package main

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
)

// config is every setting of the program. Each comes from a flag or from the environment;
// nothing else of the program reads either.
type config struct {
	DatabaseURL string `name:"database-url" env:"SABINBOOK_DATABASE_URL" placeholder:"URL" help:"sqlite:PATH or postgres://... (default: a file in the user's data folder)."`
	// PasswordFile keeps the password out of the environment, which other processes and logs may show.
	PasswordFile string `name:"database-password-file" env:"SABINBOOK_DATABASE_PASSWORD_FILE" placeholder:"FILE" help:"File with the password of the PostgreSQL user, for a URL that holds none."`

	Serve   serveCommand   `cmd:"" help:"Serve the catalog over HTTP."`
	Demo    demoCommand    `cmd:"" help:"Run the main job on the embedded seed: ten panels, ranked, over HTTP."`
	Seed    seedCommand    `cmd:"" help:"Load the seed catalog into an empty database."`
	Export  exportCommand  `cmd:"" help:"Write the whole catalog of a service into a file, as an open Data Package."`
	Import  importCommand  `cmd:"" help:"Say what taking a package over would change, and with --apply do it."`
	Migrate migrateCommand `cmd:"" help:"Show or change the version of the database."`
	Token   tokenCommand   `cmd:"" help:"Make, list and end tokens of members, in the database itself."`
	Rank    rankCommand    `cmd:"" help:"Ask a running service which options give the most absorption for the money."`
	Sheet   sheetCommand   `cmd:"" help:"Print a document of a shortlist: shopping list, cut plans, cautions. Works on the file alone."`
	Verify  verifyCommand  `cmd:"" help:"Work the answer of a shortlist's document out again, from the file alone."`
	Compare compareCommand `cmd:"" help:"Set two documents of shortlists side by side. Works on the files alone."`
	Price   priceCommand   `cmd:"" help:"Add a price that was seen to a running service."`
	Backup  backupCommand  `cmd:"" help:"Write the whole database, members' tokens among it, into a file: one moment's state."`
	Restore restoreCommand `cmd:"" help:"Put a backup into an empty database of either kind."`
	Move    moveCommand    `cmd:"" help:"Copy the whole database into an empty one of either kind, and prove that the two are equal."`

	Healthcheck healthcheckCommand `cmd:"" help:"Ask the service at its own address whether it is ready; exit code 0 says yes."`
	Version     versionCommand     `cmd:"" help:"Print the version."`
}

// listen is where a server listens.
type listen struct {
	Listen string `env:"SABINBOOK_LISTEN" default:"127.0.0.1:8080" placeholder:"ADDRESS" help:"Address to serve on; port 0 takes a free one (default: ${default})."`
}

// errNotLoopback refuses to show the demo, which is open to all, to a network.
var errNotLoopback = errors.New("the demo is served on loopback addresses only, such as 127.0.0.1:8080 or [::1]:8080")

// configError is a mistake in a setting. It names the setting and not its value, which
// may hold a password.
type configError struct {
	setting string
	err     error
}

func (e *configError) Error() string { return e.setting + ": " + e.err.Error() }
func (e *configError) Unwrap() error { return e.err }

// listenSetting is the name of the setting of the address.
const listenSetting = "SABINBOOK_LISTEN (--listen)"

// address reads the address, and whether only this machine reaches it. Without a host it is
// every address of the machine.
func (l listen) address() (address string, loopback bool, err error) {
	return addressOf(listenSetting, l.Listen)
}

func addressOf(setting, given string) (address string, loopback bool, err error) {
	host, port, err := net.SplitHostPort(given)
	if err != nil {
		return "", false, &configError{setting, errors.New("must be HOST:PORT, such as 127.0.0.1:8080")}
	}
	switch host {
	case "localhost":
		host = "127.0.0.1"
	case "":
		return given, false, nil
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return "", false, &configError{setting, errors.New("must name its host as an IP address, such as 127.0.0.1:8080 or [::1]:8080")}
	}
	return net.JoinHostPort(host, port), ip.Unmap().IsLoopback(), nil
}

// databaseURL returns the URL of the database, by default a file in the user's data
// folder, which it makes if needed.
func (c config) databaseURL() (string, error) {
	const setting = "SABINBOOK_DATABASE_URL (--database-url)"
	postgres := strings.HasPrefix(c.DatabaseURL, "postgres://") || strings.HasPrefix(c.DatabaseURL, "postgresql://")
	switch {
	case postgres && c.PasswordFile != "":
		return withPassword(c.DatabaseURL, c.PasswordFile)
	case c.PasswordFile != "":
		return "", &configError{passwordSetting, errors.New("is for PostgreSQL, which the URL of the database does not name")}
	case c.DatabaseURL == "":
		folder, err := dataFolder()
		if err != nil {
			return "", &configError{setting, err}
		}
		return "sqlite:" + filepath.Join(folder, "catalog.db"), nil
	case postgres, strings.HasPrefix(c.DatabaseURL, "sqlite:"):
		return c.DatabaseURL, nil
	}
	return "", &configError{setting, errors.New("must begin with sqlite: or postgres://")}
}

// passwordSetting is the name of the setting of the file with the password.
const passwordSetting = "SABINBOOK_DATABASE_PASSWORD_FILE (--database-password-file)"

// withPassword puts the password that a file holds into the URL of a database. A line end behind the
// password is none of it.
func withPassword(database, file string) (string, error) {
	u, err := url.Parse(database)
	if err != nil {
		return "", &configError{passwordSetting, errors.New("the URL of the database cannot be read")} // its error would show it
	}
	if _, twice := u.User.Password(); twice {
		return "", &configError{passwordSetting, errors.New("the URL of the database holds a password already: take it out there")}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return "", &configError{passwordSetting, err}
	}
	password := strings.TrimRight(string(text), "\r\n")
	if password == "" {
		return "", &configError{passwordSetting, errors.New("the file is empty")}
	}
	u.User = url.UserPassword(u.User.Username(), password)
	return u.String(), nil
}

// dataFolder is the folder of the program's data: XDG_DATA_HOME where it is set, else the
// custom of the system.
func dataFolder() (string, error) {
	base := os.Getenv("XDG_DATA_HOME")
	if base == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", errors.New("there is no home folder to put the database in; name a file like sqlite:catalog.db")
		}
		base = filepath.Join(home, ".local", "share")
	}
	folder := filepath.Join(base, "sabinbook")
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return "", fmt.Errorf("cannot make the data folder: %w", err)
	}
	return folder, nil
}
