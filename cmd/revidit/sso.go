package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"revidit/auth"
	"revidit/web"
)

// ssoFlags name the OpenID provider of a museum. The secret is never the value of a flag, which every list of processes shows.
type ssoFlags struct {
	Issuer     string   `help:"OpenID provider (https://…) by whose logins people may come who are linked with it; empty: none. Needs --url; it has to be told the address URL/login/provider/end." env:"REVIDIT_SSO_ISSUER" placeholder:"URL"`
	Client     string   `help:"What it knows this service by (client_id)." env:"REVIDIT_SSO_CLIENT" placeholder:"ID"`
	SecretFile string   `help:"File with the secret that goes with it, and nothing else; without one it is taken from the environment, REVIDIT_SSO_SECRET." env:"REVIDIT_SSO_SECRET_FILE" placeholder:"FILE" type:"path"`
	SecondACR  []string `help:"Values of acr by which it says that a second factor was used, beside mfa in amr; ours is not asked for then." name:"second-acr" env:"REVIDIT_SSO_SECOND_ACR" placeholder:"VALUE"`
}

// ssoSecret is the name in the environment.
const ssoSecret = "REVIDIT_SSO_SECRET"

// maxSSOSecret bounds the file of a secret, in bytes.
const maxSSOSecret = 4 << 10

// provider is that of the flags; nil: none.
func (f ssoFlags) provider(publicURL string) (*auth.Provider, error) {
	if f.Issuer == "" {
		if f.Client != "" || f.SecretFile != "" || len(f.SecondACR) > 0 {
			return nil, errors.New("--sso-client, --sso-secret-file and --sso-second-acr need --sso-issuer")
		}
		return nil, nil
	}
	if publicURL == "" || f.Client == "" {
		return nil, errors.New("--sso-issuer needs --url and --sso-client: the provider sends people back to an address, and knows this service by a name")
	}
	secret, err := f.secret()
	if err != nil {
		return nil, err
	}
	provider, err := auth.NewProvider(auth.ProviderConfig{Issuer: f.Issuer, ClientID: f.Client, Secret: secret, SecondACR: f.SecondACR,
		Redirect: strings.TrimSuffix(publicURL, "/") + web.ProviderPath})
	if err != nil {
		return nil, fmt.Errorf("--sso-issuer: %w", err)
	}
	return provider, nil
}

func (f ssoFlags) secret() (string, error) {
	secret := os.Getenv(ssoSecret)
	if f.SecretFile != "" {
		info, err := os.Stat(f.SecretFile)
		if err != nil {
			return "", fmt.Errorf("--sso-secret-file: %w", err)
		}
		if info.Size() > maxSSOSecret {
			return "", fmt.Errorf("--sso-secret-file %s holds more than a secret: %d bytes", f.SecretFile, info.Size())
		}
		text, err := os.ReadFile(f.SecretFile)
		if err != nil {
			return "", fmt.Errorf("--sso-secret-file: %w", err)
		}
		secret = string(text)
	}
	if secret = strings.TrimSpace(secret); secret == "" {
		return "", fmt.Errorf("--sso-issuer needs the secret of its client: name a file with --sso-secret-file, or set %s", ssoSecret)
	}
	return secret, nil
}
