package sqlite_test
import ("testing";"math/rand/v2";"path/filepath";"slices";"time";"fmt";"github.com/google/go-cmp/cmp")
func TestDbg(t *testing.T){
 path:=filepath.Join(t.TempDir(),"a.book"); fillEveryTable(t,path); whole:=read(t,path); want,_:=dump(t,path)
 rng:=rand.New(rand.NewPCG(uint64(time.Now().UnixNano()),1)); n,ok:=0,0
 for t0:=time.Now(); time.Since(t0)<100*time.Second; n++ {
  f:=slices.Clone(whole)
  for range 1+rng.IntN(4) {
   at:=rng.IntN(len(f)); if rng.IntN(3)==0 { at=rng.IntN(len(f)/pageSize)*pageSize+rng.IntN(64)%pageSize }
   for i:=range 1+rng.IntN(3) { if at+i<len(f) { f[at+i]=byte(rng.Uint32()) } }
  }
  for p:=0; p+pageSize<=len(f); p+=pageSize { page:=f[p:p+pageSize]; copy(page[pageSize-8:],checksum(page[:pageSize-8])) }
  write(t,path,f)
  if harm(t,path) {continue}
  ok++
  got,err:=dump(t,path)
  if d:=cmp.Diff(want,got); d!=""||err!=nil { t.Errorf("%v %s",err,d) }
 }
 fmt.Println(n,ok)
}
