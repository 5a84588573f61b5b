package main

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/boxes"
)

// Two boxes beyond this machine, each with the certificate that it made for itself: the
// second looks at the first with the one token that both let in, and shows both.
func TestTwoBoxes(t *testing.T) {
	address := ownAddress(t)
	dir := t.TempDir()
	alone := filepath.Join(dir, "first.yaml")
	write(t, alone, "shop: {number: 1}\n")
	first, at := rehearsing(t, address, "--shop", alone)
	token := said(t, "pair", "--token", "shop", "--view", "--data", first)[:26]
	fingerprint := regexp.MustCompile(`(?m)^([0-9A-F]{2}:){31}[0-9A-F]{2}$`).FindString(said(t, "pair", "--data", first))
	shop, secret := filepath.Join(dir, "shop.yaml"), filepath.Join(dir, "shop.token")
	list := func(fingerprint string) {
		write(t, shop, fmt.Sprintf("data: %s\nprobes: [{name: steam, id: 28-000000000001}]\nboard: {w1_root: nothing-here}\nshop:\n  number: 2\n  boxes:\n"+
			"    - {number: 1, at: %q, secret_file: shop.token, sha256: %q}\n    - {number: 2, at: 'http://box-2.lan:8017'}\n", dir, at, fingerprint))
	}
	write(t, secret, token+"\n")
	list(fingerprint)
	second, page := rehearsing(t, address, "--shop", shop)
	said(t, "pair", "--token", "shop", "--view", "--token-file", secret, "--data", second)
	var errs bytes.Buffer
	if status := run(t.Context(), []string{"pair", "--token", "again", "--token-file", secret, "--data", second}, &errs, &errs); status != 2 || !strings.Contains(errs.String(), "known already") {
		t.Errorf("the same token twice: %d %s", status, &errs)
	}

	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} // it was made by this test
	seen := func() (v boxes.ShopView) {
		r, _ := http.NewRequestWithContext(t.Context(), http.MethodGet, page+"/api/shop", nil)
		r.Header.Set("Authorization", "Bearer "+token)
		answer, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		if err := json.NewDecoder(answer.Body).Decode(&v); err != nil || answer.StatusCode != http.StatusOK {
			t.Fatal(answer.Status, err)
		}
		return v
	}
	var v boxes.ShopView
	for range 200 {
		if v = seen(); len(v.Boxes) == 2 && v.Boxes[0].Heard && v.Boxes[1].Heard {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if len(v.Boxes) != 2 || !v.Boxes[0].Heard || !v.Boxes[1].Heard || v.Boxes[0].Silent {
		t.Fatalf("%+v", v)
	}

	for want, fingerprint := range map[string]string{"answers": fingerprint, "its certificate is none that is known": strings.Repeat("0", 64)} {
		list(fingerprint)
		var out bytes.Buffer
		run(t.Context(), []string{"check", "--config", shop}, &out, &out)
		if !strings.Contains(out.String(), want) || strings.Contains(out.String(), token) {
			t.Errorf("check says %s", &out)
		}
	}
}

// What is told wrongly of the shop is said, all at once, by key.
func TestShopMistakes(t *testing.T) {
	name := filepath.Join(t.TempDir(), "shop.yaml")
	write(t, name, `shop:
  number: 4
  boxes:
    - {number: 1, at: "https://box-1.lan:8017", watts: 2200}
    - {number: 1, at: "https://box-1.lan:8017/page", circuit: window side}
    - {number: 2, at: "http://box-2.lan", circuit: lane, watts: 2200, sha256: "00"}
  kettle: {watts: 2200}
  circuits: [{name: window side, volts: 230, amps: 16}]
`)
	_, err := readShop(name)
	for _, says := range []string{
		"shop.number: 4 is none of shop.boxes", "shop.boxes[0].circuit: which of shop.circuits do its 2200 W", "shop.boxes[1].number", "shop.boxes[1].at: not the address",
		"shop.boxes[1].watts: 0 on a circuit", `shop.boxes[2].circuit: "lane" is none of`, "shop.boxes[2].sha256: not 64", "shop.kettle.circuit: which of shop.circuits",
	} {
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("not said: %s", says)
		}
	}
	if t.Failed() {
		t.Log(err)
	}
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}
