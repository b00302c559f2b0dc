package confidence
import ("testing";"math/rand/v2";"math";"slices")
func TestZZ(t *testing.T){
 for _,n:=range []int{150,300,600,2000}{ for _,off:=range []float64{0,0.05,0.1}{
  random:=rand.New(rand.NewPCG(uint64(n),9))
  const reps=120
  var basic,perc,norm,low,high,jk int; mean,ch,bc:=0.0,0.0,0.0
  for s:=range uint64(reps){
   p,h:=drawn(random,n,off)
   g,_:=groupForecasts(p,h)
   bins:=equalMass(g,CalibrationBins); v:=meanDistance(bins)
   d:=draws(g,n,rand.New(rand.NewPCG(s,s)))
   slices.Sort(d)
   m,sq:=sum(d)/1000,0.0
   for _,x:=range d{sq+=(x-m)*(x-m)}
   sd:=math.Sqrt(sq/999)
   l,u:=max(2*v-d[975],0),max(2*v-d[25],0)
   if l<=off&&off<=u{basic++}; if l>off{low++}; if u<off{high++}
   if d[25]<=off&&off<=d[975]{perc++}
   b:=2*v-m
   if b-1.96*sd<=off&&off<=b+1.96*sd{norm++}
   // per-bin correction of squares
   c:=chance(bins,p,random)
   lo:=max(l-c,0); if off==0 {lo=l-c}
   if lo<=off && off<=v+1.96*sd {jk++}
   mean+=v/reps; ch+=c/reps; bc+=b/reps
  }
  t.Logf("n=%d off=%v value %.3f corrected %.3f chance %.3f: basic %.2f (low>%.2f high<%.2f) percentile %.2f normal %.2f wide %.2f",n,off,mean,bc,ch,float64(basic)/reps,float64(low)/reps,float64(high)/reps,float64(perc)/reps,float64(norm)/reps,float64(jk)/reps)
 }}
}
