package r4
import ("testing";"os";"weir.example/weir/mapping/element")
func BenchmarkRead(b *testing.B){
 data,_:=os.ReadFile(orders+s3)
 d,_:=element.Read(data,element.Limit{})
 now,_,_:=parseInstant(s3Now)
 b.ReportAllocs()
 for b.Loop(){ ReadCases(d,now)}
}
func BenchmarkElement(b *testing.B){
 data,_:=os.ReadFile(orders+s3)
 for b.Loop(){ element.Read(data,element.Limit{})}
}
